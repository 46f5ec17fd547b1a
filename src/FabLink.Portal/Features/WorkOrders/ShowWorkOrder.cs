using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Everything on the page of one work order.</summary>
public static class ShowWorkOrder
{
    public sealed record Line(
        Guid Id,
        int Ordinal,
        string PartNumber,
        string PartName,
        Guid RevisionId,
        string Revision,
        string DrawingNumber,
        string? Build,
        int Quantity,
        DateOnly NeedDate,
        string Note,
        string? NewerRevision);

    public sealed record PromiseRow(Guid LineId, DateOnly Date, string Reason, DateTimeOffset MadeAt, string? By, string? Organisation, bool OnBehalf);

    public sealed record QuestionRow(
        Guid Id,
        string? About,
        string Body,
        DateTimeOffset AskedAt,
        string? AskedBy,
        string? AskedByOrganisation,
        bool OnBehalf,
        string? Answer,
        DateTimeOffset? AnsweredAt,
        string? AnsweredBy);

    public sealed record SlipRow(Guid Id, string Number, string Note, DateTimeOffset ShippedAt, string? By, string? Organisation, bool OnBehalf, string[] Serials);

    public sealed record Page(
        Actor Actor,
        OrderHead Order,
        OrderFacts Facts,
        OrderStanding Standing,
        IReadOnlyList<Line> Lines,
        IReadOnlyList<PieceOnRoute> Pieces,
        IReadOnlyList<PromiseRow> Promises,
        IReadOnlyList<QuestionRow> Questions,
        IReadOnlyList<SlipRow> Slips,
        IReadOnlyList<PaperRow> Attachments,
        IReadOnlyList<ChooseSampling.Chosen> Sampling,
        DraftChecks.Draft? Draft,
        IReadOnlyList<string> Remarks,
        DateTimeOffset Now)
    {
        /// <summary>For whom the build shop may keep a photo or print.</summary>
        public IReadOnlyList<Whose> Shops { get; init; } = [];

        public bool May(Deed deed) => Actor.May(deed, Order.RelationOf(Actor));

        /// <summary>The build shop looks at it: what it says for the shop is marked so.</summary>
        public bool IsOwner => Order.OnBehalf(Actor);

        /// <summary>The first line that the shop still has pieces of and has promised no date for.</summary>
        public Line? Unpromised => Lines.FirstOrDefault(line => PromiseOf(line) is null && Due.Any(piece => piece.LineId == line.Id && !piece.Route.Done));

        public PromiseRow? PromiseOf(Line line) => Promises.FirstOrDefault(promise => promise.LineId == line.Id);

        public IReadOnlyList<PieceOnRoute> PiecesOf(Line line) => [.. Pieces.Where(piece => piece.LineId == line.Id)];

        /// <summary>They are on no packing slip, and the shop has them.</summary>
        public IReadOnlyList<PieceOnRoute> Due { get; } = Order.ClosedAt is null
            ? [.. Pieces.Where(piece => piece is { Shipment: null, Route.IsOver: false } && Leaving.Gone(piece.Route, Order.ShopId) is null)]
            : [];

        /// <summary>They are on no packing slip, and somebody else has them all the same.</summary>
        public IReadOnlyList<PieceOnRoute> WithoutSlip { get; } =
            [.. Pieces.Where(piece => piece is { Shipment: null, Route.IsOver: false } && Leaving.Gone(piece.Route, Order.ShopId) is not null)];

        public int StillDue => Due.Count;

        /// <summary>Neither scrapped nor made anew as another.</summary>
        public int GoingOn => Pieces.Count(piece => !piece.Route.IsOver);

        /// <summary>A further sentence where scrapped pieces are missing in the end; else nothing.</summary>
        public string EndsShort => Facts.Scrapped is { } scrapped && Order.ClosedAt is null ? $" {scrapped}: the order ends {Facts.PiecesScrapped} short." : "";

        /// <summary>How long the shop's clock stood still for answers.</summary>
        public TimeSpan ClockStood => Questions.Aggregate(TimeSpan.Zero, (sum, question) => sum + ((question.AnsweredAt ?? Now) - question.AskedAt));
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Lines = """
            select l.id, l.ordinal, p.number as part_number, p.name as part_name, r.id as revision_id, r.letter as revision, d.number as drawing_number,
                   b.number as build, l.quantity, l.need_date, l.note, (select n.letter from newer_revision(r.id) n) as newer_revision
            from work_order_line l
            join revision r on r.id = l.revision_id join part p on p.id = r.part_id join drawing d on d.id = r.drawing_id
            left join build b on b.id = l.build_id
            where l.work_order_id = @id order by l.ordinal
            """;

        private const string Promises = """
            select m.line_id, m.promised_date as date, m.reason, m.made_at, p.name as by, o.name as organisation, m.on_behalf
            from promise m left join person p on p.id = m.made_by left join organisation o on o.id = p.organisation_id
            where m.work_order_id = @id order by m.made_at desc, m.id desc
            """;

        private const string Questions = """
            select q.id, d.number || ' ' || r.letter || coalesce(', balloon ' || c.balloon || ' ' || c.name, '') as about, q.body, q.asked_at,
                   a.name as asked_by, o.name as asked_by_organisation, q.on_behalf, q.answer, q.answered_at, b.name as answered_by
            from question q
            left join revision r on r.id = q.revision_id left join drawing d on d.id = r.drawing_id left join characteristic c on c.id = q.characteristic_id
            left join person a on a.id = q.asked_by left join organisation o on o.id = a.organisation_id left join person b on b.id = q.answered_by
            where q.work_order_id = @id order by q.answered_at is not null, q.asked_at desc
            """;

        private const string Slips = """
            select s.id, s.number, s.note, s.shipped_at, p.name as by, o.name as organisation, s.on_behalf,
                   array(select i.serial from packing_slip_piece x join piece i on i.id = x.piece_id where x.packing_slip_id = s.id order by i.serial) as serials
            from packing_slip s left join person p on p.id = s.shipped_by left join organisation o on o.id = p.organisation_id
            where s.work_order_id = @id order by s.shipped_at
            """;

        /// <summary>The page, or null when the order is not there for this actor.</summary>
        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LoadAsync(work, id) is not { } order)
                return null;
            if (!actor.May(Deed.SeeWorkOrders, order.RelationOf(actor)))
                return null;
            var facts = (await work.RowsAsync<OrderFacts>(OrderFacts.OfOne, new { id })).Single();
            var now = clock.GetUtcNow();
            var today = DateOnly.FromDateTime(now.UtcDateTime);
            var pieces = await PieceRoutes.OfOrderAsync(work, id);
            var draft = order is { IsDraft: true, ClosedAt: null } ? await DraftChecks.LoadAsync(work, id) : null;
            return new Page(
                actor,
                order,
                facts,
                OrderStanding.Of(facts, today, pieces.Where(piece => piece.Route.WaitsForReport).Select(piece => piece.WhoseTurn).OfType<Whose>()),
                await work.RowsAsync<Line>(Lines, new { id }),
                pieces,
                await work.RowsAsync<PromiseRow>(Promises, new { id }),
                await work.RowsAsync<QuestionRow>(Questions, new { id }),
                await work.RowsAsync<SlipRow>(Slips, new { id }),
                await Papers.OfOrderAsync(work, id),
                await ChooseSampling.OfOrderAsync(work, id),
                draft,
                draft is null ? [] : DraftChecks.Of(draft, today),
                now)
            { Shops = order.OnBehalf(actor) ? await Papers.ShopsAsync(work, id) : [] };
        }
    }
}
