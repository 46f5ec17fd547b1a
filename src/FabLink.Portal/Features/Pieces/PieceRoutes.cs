using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Pieces;

/// <summary>One piece with its route as far as the actor may see it: a process shop sees only its own steps.</summary>
/// <param name="Owner">The build shop.</param>
/// <param name="Shop">Of the order; null for a process shop, which sees no order.</param>
/// <param name="AskedSince">When the oldest question of the order was asked that has no answer; null when there is none.</param>
public sealed record PieceOnRoute(
    Guid Id,
    string Serial,
    Guid OwnerId,
    Guid WorkOrderId,
    Guid LineId,
    string PartNumber,
    string PartName,
    Guid RevisionId,
    string Revision,
    Shipment? Shipment,
    PieceRoute Route,
    Whose? Owner = null,
    Whose? Shop = null,
    DateTimeOffset? AskedSince = null)
{
    /// <summary>The packing slip that it is under way with; null when it has none, or when a step that was begun since says that it is there.</summary>
    public Shipment? OnTheWay => Shipment?.IsUnderWay(Route) == true ? Shipment : null;

    /// <summary>Whose turn it is, by name; null when nothing is left to do.</summary>
    public string? Turn => WhoseTurn?.Name;

    public Whose? WhoseTurn => Route.TurnOf(Owner ?? new(OwnerId, "the build shop"), Shop);
}

/// <summary>The packing slip of a piece, and whom it is addressed to.</summary>
public sealed record Shipment(Guid Id, string Number, Guid ToId, string To, DateTimeOffset At)
{
    public bool IsUnderWay(PieceRoute route) => !route.IsOver && IsNotThereYet(route);

    /// <summary>The same of a piece that is over as well: nothing of it goes on, and it arrives all the same.</summary>
    public bool IsNotThereYet(PieceRoute route) => !route.Done
        && !route.Steps.Any(step => step.StartedAt >= At && (step.Outside || step.OrganisationId == ToId));

    public string Words => $"on the way to {To} since {LocalTime.Day(At)}, {Number}";

    /// <summary>The same for whoever it is addressed to, or where the place says where to.</summary>
    public string WordsHere => $"on the way since {LocalTime.Day(At)}, {Number}";
}

/// <summary>Reads pieces and their steps in three statements, however many there are.</summary>
public static class PieceRoutes
{
    private const string Pieces = """
        select p.id, p.serial, p.owner_id, p.work_order_id, p.line_id, part.number as part_number, part.name as part_name, p.revision_id, r.letter as revision,
               slip.id as slip_id, slip.number as slip, coalesce(slip.to_id, p.owner_id) as slip_to_id, coalesce(addressee.name, '') as slip_to, slip.shipped_at,
               st.nonconformance, st.decided, st.failed_stage, st.ended, coalesce(st.why, w.decline_reason) as why,
               (select coalesce((select c.body ->> 'joint' from correction c where c.joint_id = h.joint_id and c.piece_id = h.piece_id order by c.made_at desc limit 1), 'of the build')
                from joint_hold h where h.piece_id = p.id and h.lifted_at is null order by h.raised_at limit 1) as held_by_joint,
               being_looked_at(p.id) as looked_at, owner.name as owner_name, w.shop_id, shop.name as shop_name,
               w.declined_at is not null as declined, coalesce(w.closed_at is not null and not is_through(p.id), false) as closed, w.id is not null and w.accepted_at is null as not_accepted,
               (select min(q.asked_at) from question q where q.work_order_id = w.id and q.answered_at is null) as asked_since
        from piece p
        join part on part.id = p.part_id
        join revision r on r.id = p.revision_id
        left join packing_slip_piece sp on sp.piece_id = p.id
        left join packing_slip slip on slip.id = sp.packing_slip_id
        left join organisation addressee on addressee.id = coalesce(slip.to_id, p.owner_id)
        left join lateral piece_stand(p.id) st on true
        left join organisation owner on owner.id = p.owner_id
        left join work_order w on w.id = p.work_order_id
        left join organisation shop on shop.id = w.shop_id
        where (p.work_order_id = @order::uuid or p.id = any (@pieces::uuid[]))
        order by p.serial
        """;

    private const string Steps = """
        select s.id, s.piece_id, s.ordinal, r.kind, s.organisation_id, o.name as organisation_name,
               s.organisation_id <> s.owner_id and s.organisation_id is distinct from w.shop_id as outside,
               r.stage, r.gate, r.opens_by, r.notice_hours, r.planned_days, s.started_at, s.finished_at, s.asked_at, s.opened_at, s.opened_how
        from piece_step s
        join route_step r on r.id = s.route_step_id
        left join work_order w on w.id = s.work_order_id
        left join organisation o on o.id = s.organisation_id
        where (s.work_order_id = @order::uuid or s.piece_id = any (@pieces::uuid[]))
        order by s.piece_id, s.ordinal
        """;

    /// <summary>
    /// A finished step s of route step r and piece p whose stage is not shown to conform. What a person released or conceded, somebody answered for, until a later report says otherwise;
    /// what a report opened may be asked for more since, when the sample of its line failed. Whose newest report conforms is passed over before all its values are looked at.
    /// </summary>
    internal const string IsNotShown = """
        s.finished_at is not null and r.stage is not null
        and (r.gate = 'none' or s.opened_how in ('notice time over', 'report')
             or exists (select 1 from report o where o.piece_id = s.piece_id and o.stage = r.stage and o.submitted_at > s.opened_at))
        and exists (select 1 from characteristic c where c.revision_id = p.revision_id and r.stage = any (c.stages))
        and (coalesce((select o.verdict from report o where o.piece_id = s.piece_id and o.stage = r.stage order by o.submitted_at desc, o.id desc limit 1), '') <> 'conforms'
             or p.line_id in (select line_id from line_sampling where failed_at is not null))
        and settled_verdict(s.piece_id, r.stage) <> 'conforms'
        """;

    private const string NotShown = $"""
        select s.piece_id, r.stage
        from piece_step s join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id
        where (s.work_order_id = @order::uuid or s.piece_id = any (@pieces::uuid[]))
          and {IsNotShown}
        order by s.piece_id, s.ordinal
        """;

    private sealed record StageRow(Guid PieceId, string Stage);

    private sealed record PieceRow(
        Guid Id,
        string Serial,
        Guid OwnerId,
        Guid WorkOrderId,
        Guid LineId,
        string PartNumber,
        string PartName,
        Guid RevisionId,
        string Revision,
        Guid? SlipId,
        string? Slip,
        Guid SlipToId,
        string SlipTo,
        DateTimeOffset? ShippedAt,
        string? Nonconformance,
        string? Decided,
        string? FailedStage,
        string? Ended,
        string? Why,
        string? HeldByJoint,
        bool LookedAt,
        string? OwnerName,
        Guid? ShopId,
        string? ShopName,
        bool Declined,
        bool Closed,
        bool NotAccepted,
        DateTimeOffset? AskedSince);

    public static Task<IReadOnlyList<PieceOnRoute>> OfOrderAsync(Work work, Guid order) => LoadAsync(work, order, null);

    /// <summary>The piece, or null when it is not there for this actor.</summary>
    public static async Task<PieceOnRoute?> OfPieceAsync(Work work, Guid piece) => (await OfPiecesAsync(work, [piece])).SingleOrDefault();

    public static Task<IReadOnlyList<PieceOnRoute>> OfPiecesAsync(Work work, Guid[] pieces) => LoadAsync(work, null, pieces);

    /// <summary>What ended the piece, behind "it is"; null while it goes on. For handlers that write, before the database refuses.</summary>
    public static async Task<string?> EndedAsync(Work work, Guid piece) =>
        await work.ValueAsync<string>("select ended from piece_stand(@piece)", new { piece }) is { } ended ? PieceRoute.OverWords(ended) : null;

    /// <summary>What others found holds no step that a shop with only steps of its own has done; what a step of its own waits for is told with that step.</summary>
    private static PieceRoute Seen(Relation relation, PieceRoute route) =>
        relation == Relation.Process && route.Steps.All(step => step.Stage != route.FailedStage) ? route with { OpenNonconformance = null, Decided = null, FailedStage = null } : route;

    public static OrderStop? OrderStopOf(bool declined, bool notAccepted) => declined ? OrderStop.Declined : notAccepted ? OrderStop.NotAccepted : null;

    private static async Task<IReadOnlyList<PieceOnRoute>> LoadAsync(Work work, Guid? order, Guid[]? chosen)
    {
        var pieces = await work.RowsAsync<PieceRow>(Pieces, new { order, pieces = chosen });
        var steps = (await work.RowsAsync<StepFacts>(Steps, new { order, pieces = chosen })).ToLookup(step => step.PieceId);
        var notShown = (await work.RowsAsync<StageRow>(NotShown, new { order, pieces = chosen })).ToLookup(row => row.PieceId, row => row.Stage);
        return
        [
            .. pieces.Select(row => new PieceOnRoute(
                row.Id,
                row.Serial,
                row.OwnerId,
                row.WorkOrderId,
                row.LineId,
                row.PartNumber,
                row.PartName,
                row.RevisionId,
                row.Revision,
                row is { SlipId: { } slip, ShippedAt: { } at } ? new Shipment(slip, row.Slip!, row.SlipToId, row.SlipTo, at) : null,
                Seen(work.Actor.RelationTo(row.OwnerId, row.ShopId), new([.. steps[row.Id]], row.Nonconformance, row.HeldByJoint, row.Decided, row.FailedStage, row.Ended ?? (row.Closed ? "closed" : null), row.Why, row.LookedAt, OrderStopOf(row.Declined, row.NotAccepted))
                {
                    NotShown = [.. notShown[row.Id].Distinct()],
                }),
                row.OwnerName is null ? null : new Whose(row.OwnerId, row.OwnerName),
                row.ShopId is { } shop ? new Whose(shop, row.ShopName ?? "the shop") : null,
                row.AskedSince)),
        ];
    }
}
