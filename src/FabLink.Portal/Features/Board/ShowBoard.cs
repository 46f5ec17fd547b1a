using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Board;

/// <summary>
/// Every piece on its way in one table: rows pieces, columns the steps of their routes. One statement, whatever the number of pieces;
/// where a step stands is decided by <see cref="StepFacts"/> as everywhere.
/// </summary>
public static class ShowBoard
{
    /// <param name="Build">Number of a build; empty: all.</param>
    /// <param name="Shop">Of the work order; null: all.</param>
    /// <param name="At">Who does the step where the piece is, such as the coater; null: all.</param>
    /// <param name="Until">Needed on this day or before.</param>
    /// <param name="Only"><c>late</c>, <c>held</c> or empty.</param>
    /// <param name="Done">Also pieces whose route is done.</param>
    public sealed record Filter(string? Build = null, Guid? Shop = null, DateOnly? Until = null, string? Only = null, bool Done = false, Guid? At = null)
    {
        /// <summary>Some pieces are left out, so that what is counted is not all there is.</summary>
        public bool Narrows => !string.IsNullOrEmpty(Build) || Shop is not null || Until is not null || !string.IsNullOrEmpty(Only) || At is not null;
    }

    /// <summary>A piece with its steps as parallel arrays, in the order of the route.</summary>
    /// <param name="FailedStage">At which stage the open nonconformance was found.</param>
    /// <param name="AskedSince">When the oldest question of its order was asked that has no answer; null when there is none.</param>
    public sealed record Row(
        Guid Id,
        string Serial,
        Guid OwnerId,
        string Owner,
        string PartNumber,
        string PartName,
        Guid WorkOrderId,
        string OrderNumber,
        Guid ShopId,
        string Shop,
        string? Build,
        DateOnly NeedDate,
        DateOnly? Promised,
        string? Nonconformance,
        string? Decided,
        string? FailedStage,
        string? HeldByJoint,
        string[] NotShown,
        bool Declined,
        Guid? SlipId,
        string? Slip,
        Guid SlipToId,
        string? SlipTo,
        DateTime? ShippedAt,
        bool NotAccepted,
        bool Cancelled,
        bool Closed,
        DateTimeOffset? AskedSince,
        string[] Kinds,
        Guid[] Organisations,
        string[] OrganisationNames,
        bool[] Outside,
        string[] Stages,
        string[] Gates,
        string[] OpensBy,
        DateTime[] Started,
        DateTime[] Finished,
        DateTime[] Asked,
        DateTime[] Opened);

    /// <param name="Late">Needed before today, or promised for a day after it is needed.</param>
    /// <param name="OnTheWay">As everywhere: <see cref="PieceOnRoute.OnTheWay"/>.</param>
    public sealed record PieceRow(Row Row, PieceRoute Route, bool Late, Shipment? OnTheWay)
    {
        public bool IsHeld => Route is { Stop: not null, IsOver: false };

        /// <summary>Whose turn it is; null when the route is done.</summary>
        public Whose? WhoseTurn { get; } = Route.TurnOf(new Whose(Row.OwnerId, Row.Owner), new Whose(Row.ShopId, Row.Shop));

        public string? WaitsFor => WhoseTurn?.Name;
    }

    public sealed record ShopChoice(Guid Id, string Name);

    /// <param name="Columns">The kinds of step that occur, in the order of the trade.</param>
    /// <param name="Doers">Whoever has a step of an open order.</param>
    public sealed record Page(
        Filter Filter,
        IReadOnlyList<PieceRow> Pieces,
        IReadOnlyList<string> Columns,
        IReadOnlyList<string> Builds,
        IReadOnlyList<ShopChoice> Shops,
        IReadOnlyList<ShopChoice> Doers,
        DateOnly Today);

    /// <summary>No time yet: arrays of PostgreSQL hold no NULL for a plain <see cref="DateTime"/>.</summary>
    private static readonly DateTime _notYet = new(1970, 1, 1, 0, 0, 0, DateTimeKind.Utc);

    public const string Select = $$"""
        with step as (
            select s.piece_id,
                   array_agg(r.kind order by s.ordinal) as kinds,
                   array_agg(s.organisation_id order by s.ordinal) as organisations,
                   array_agg(o.name order by s.ordinal) as organisation_names,
                   array_agg(s.organisation_id <> w.owner_id and s.organisation_id <> w.shop_id order by s.ordinal) as outside,
                   array_agg(coalesce(r.stage, '') order by s.ordinal) as stages,
                   array_agg(r.gate order by s.ordinal) as gates,
                   array_agg(coalesce(r.opens_by, '') order by s.ordinal) as opens_by,
                   array_agg(coalesce(s.started_at, 'epoch') order by s.ordinal) as started,
                   array_agg(coalesce(s.finished_at, 'epoch') order by s.ordinal) as finished,
                   array_agg(coalesce(s.asked_at, 'epoch') order by s.ordinal) as asked,
                   array_agg(coalesce(s.opened_at, 'epoch') order by s.ordinal) as opened,
                   bool_and(s.finished_at is not null and (r.gate = 'none' or s.opened_at is not null)) as done
            from piece_step s join route_step r on r.id = s.route_step_id join work_order w on w.id = s.work_order_id
                 join organisation o on o.id = s.organisation_id
            where w.closed_at is null or @Done
            group by s.piece_id
        ), promised as (
            select distinct on (line_id) line_id, promised_date from promise order by line_id, made_at desc, id desc
        ), open_nc as (
            select distinct on (n.piece_id) n.piece_id, n.number, n.stage, decision_of(n) as disposition from nonconformance n where n.closed_at is null
            order by n.piece_id, n.disposition in ('scrap', 'remake') desc nulls last, decision_of(n) is not null, n.opened_at
        ), held as (
            select h.piece_id, coalesce(min(j.name), 'of the build') as joint from joint_hold h left join joint j on j.id = h.joint_id where h.lifted_at is null group by h.piece_id
        ), asked as (
            select work_order_id, min(asked_at) as since from question where answered_at is null group by work_order_id
        ), unshown as (
            select s.piece_id, array_agg(r.stage order by s.ordinal) as stages
            from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id join work_order w on w.id = s.work_order_id
            where (w.closed_at is null or @Done) and {{PieceRoutes.IsNotShown}}
            group by s.piece_id
        )
        select p.id, p.serial, p.owner_id, owner.name as owner, t.number as part_number, t.name as part_name, p.work_order_id, w.number as order_number, w.shop_id, shop.name as shop,
               b.number as build, l.need_date, promised.promised_date as promised, nc.number as nonconformance, nc.disposition as decided,
               nc.stage as failed_stage, held.joint as held_by_joint, coalesce(unshown.stages, '{}') as not_shown, w.declined_at is not null and w.closed_at is null as declined,
               slip.id as slip_id, slip.number as slip, coalesce(slip.to_id, p.owner_id) as slip_to_id, addressee.name as slip_to, slip.shipped_at,
               w.accepted_at is null as not_accepted, w.close_reason is not null and not step.done as cancelled, w.closed_at is not null and not step.done as closed, asked.since as asked_since,
               step.kinds, step.organisations, step.organisation_names, step.outside, step.stages, step.gates, step.opens_by, step.started, step.finished, step.asked, step.opened
        from step join piece p on p.id = step.piece_id join part t on t.id = p.part_id
             join work_order_line l on l.id = p.line_id join work_order w on w.id = p.work_order_id join organisation shop on shop.id = w.shop_id
             join organisation owner on owner.id = p.owner_id left join asked on asked.work_order_id = w.id
             left join build b on b.id = l.build_id left join promised on promised.line_id = l.id left join open_nc nc on nc.piece_id = p.id left join held on held.piece_id = p.id left join unshown on unshown.piece_id = p.id
             left join packing_slip_piece sp on sp.piece_id = p.id left join packing_slip slip on slip.id = sp.packing_slip_id
             left join organisation addressee on addressee.id = coalesce(slip.to_id, p.owner_id)
        where (@Done or (not step.done or nc.piece_id is not null) and coalesce(nc.disposition, '') not in ('scrap', 'remake')) and (@Build = '' or b.number = @Build) and (@Shop::uuid is null or w.shop_id = @Shop)
              and (@Until::date is null or l.need_date <= @Until)
        order by l.need_date, p.serial
        """;

    public static object Arguments(Filter filter) => new { Build = filter.Build ?? "", filter.Shop, filter.Until, filter.Done };

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Builds = "select number from build order by created_at desc, number";
        private const string Shops = "select distinct o.id, o.name from work_order w join organisation o on o.id = w.shop_id order by o.name";

        private const string Doers = """
            select o.id, o.name from organisation o
            where exists (select 1 from route_step r join work_order w on w.id = r.work_order_id where r.organisation_id = o.id and w.closed_at is null) order by o.name
            """;

        public async Task<Page> HandleAsync(Actor actor, Filter filter, CancellationToken cancellation)
        {
            var today = DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime);
            await using var work = await database.BeginAsync(actor, cancellation);
            IReadOnlyList<PieceRow> pieces = [.. (await PiecesAsync(work, filter, today)).Where(piece => Wanted(piece, filter))];
            var kinds = pieces.SelectMany(piece => piece.Row.Kinds).ToHashSet();
            return new Page(
                filter,
                pieces,
                [.. WorkOrders.PlannedStep.Kinds.Where(kinds.Contains)],
                await work.RowsAsync<string>(Builds),
                await work.RowsAsync<ShopChoice>(Shops),
                await work.RowsAsync<ShopChoice>(Doers),
                today);
        }
    }

    /// <summary>The pieces that the filter asks for, but for what is only known of a piece's route: late, held, where it is.</summary>
    public static async Task<IEnumerable<PieceRow>> PiecesAsync(Work work, Filter filter, DateOnly today) =>
        (await work.RowsAsync<Row>(Select, Arguments(filter))).Select(row => ToPiece(row, today));

    private static bool Wanted(PieceRow piece, Filter filter) =>
        (filter.At is null || filter.At == piece.Route.Current?.OrganisationId) && filter.Only switch
        {
            "late" => piece.Late,
            "held" => piece.IsHeld,
            _ => true,
        };

    private static PieceRow ToPiece(Row row, DateOnly today)
    {
        var steps = new StepFacts[row.Kinds.Length];
        for (var i = 0; i < steps.Length; i++)
        {
            steps[i] = new StepFacts(
                Guid.Empty,
                row.Id,
                i + 1,
                row.Kinds[i],
                row.Organisations[i],
                row.OrganisationNames[i],
                row.Outside[i],
                row.Stages[i],
                row.Gates[i],
                row.OpensBy[i],
                null,
                0,
                At(row.Started[i]),
                At(row.Finished[i]),
                At(row.Asked[i]),
                At(row.Opened[i]),
                null);
        }
        var route = new PieceRoute(
            steps,
            row.Nonconformance,
            row.HeldByJoint,
            row.Decided,
            row.FailedStage,
            row.Decided is "scrap" or "remake" ? row.Decided : row.Cancelled ? "cancelled" : row.Closed ? "closed" : null,
            OrderStop: PieceRoutes.OrderStopOf(row.Declined, row.NotAccepted))
        { NotShown = row.NotShown };
        var shipment = row is { SlipId: { } slip, ShippedAt: { } at } ? new Shipment(slip, row.Slip!, row.SlipToId, row.SlipTo ?? "", At(at)!.Value) : null;
        return new PieceRow(
            row, route, !route.Done && !route.IsOver && (row.NeedDate < today || row.Promised > row.NeedDate), shipment?.IsUnderWay(route) == true ? shipment : null);
    }

    private static DateTimeOffset? At(DateTime time) => time == _notYet ? null : new DateTimeOffset(DateTime.SpecifyKind(time, DateTimeKind.Utc));
}
