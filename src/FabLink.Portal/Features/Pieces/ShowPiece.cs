using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>One piece: where it is, what to do next, and everything that ever happened to it. A process shop sees its own part of that.</summary>
public static class ShowPiece
{
    public sealed record LineRow(DateOnly NeedDate, DateOnly? Promised, string? Build);

    public sealed record Event(DateTimeOffset At, string What, string? By, string? Organisation, string? OnBehalfOf, bool Stop);

    public sealed record ReportRow(Guid Id, string Stage, string Verdict, int ValueCount, int FailedCount, int UnprovenCount, DateTimeOffset SubmittedAt, string? By, bool OnBehalf);

    public sealed record NonconformanceRow(
        Guid Id, string Number, string Stage, DateTimeOffset OpenedAt, string? Disposition, string? DispositionReason, DateTimeOffset? DisposedAt, DateTimeOffset? ClosedAt);

    public sealed record Change(DateTimeOffset At, string? By, string Thing, string Action, string? What);

    /// <param name="BeforeId">The piece whose place this one took.</param>
    /// <param name="AfterId">The piece that took the place of this one.</param>
    public sealed record PlaceRow(Guid? BeforeId, string? Before, Guid? AfterId, string? After);

    /// <param name="Order">Null for a process shop: it sees no head of the order.</param>
    /// <param name="WantedBy">For a process shop: by when its next step is wanted.</param>
    /// <param name="Stages">At which the actor may measure the piece by now, in the order of the route: its step has begun or something failed there, and the drawing asks for something.</param>
    public sealed record Page(
        Actor Actor,
        Relation Relation,
        PieceOnRoute Piece,
        NextMove Next,
        string OwnerName,
        OrderHead? Order,
        LineRow? Line,
        DateOnly? WantedBy,
        PlaceRow Place,
        IReadOnlyList<ReportRow> Reports,
        IReadOnlyList<NonconformanceRow> Nonconformances,
        IReadOnlyList<PaperRow> Papers,
        IReadOnlyList<Event> History,
        IReadOnlyList<Change> Changes,
        IReadOnlyList<PairsOfPiece.Row> Pairs,
        IReadOnlyList<JointsOfPiece.Line> Joints,
        bool HasCorrection,
        IReadOnlyList<string> Stages)
    {
        /// <summary>For whom the build shop may keep a photo or print.</summary>
        public IReadOnlyList<Whose> Shops { get; init; } = [];

        /// <summary>The decision that the piece waits for: reworked or repaired as its reason says; null when there is none.</summary>
        public NonconformanceRow? Repair => Piece.Route is { IsOver: false, Decided: not null }
            ? Nonconformances.FirstOrDefault(each => each is { ClosedAt: null, Disposition: "rework" or "repair" })
            : null;

        /// <summary>The report that holds the piece because it proves nothing; null when there is none.</summary>
        public ReportRow? Unproven => Piece.Route is { IsOver: false, OpenNonconformance: null, Current: { State: StepState.Held or StepState.WaitingForWitness, Stage: { } stage } }
            && Reports.FirstOrDefault(report => report.Stage == stage) is { Verdict: "not proven" } report ? report : null;

        /// <summary>The newest report of the stage that holds the piece, where it is no yes and no no.</summary>
        public ReportRow? Undecided => Piece.Route is { IsOver: false, OpenNonconformance: null, Current: { State: StepState.Held, Stage: { } stage } }
            && Reports.FirstOrDefault(report => report.Stage == stage) is { Verdict: "not proven" or "incomplete" } report ? report : null;

        /// <summary>The report that conforms and opened nothing, because it came before its step had begun; null when there is none.</summary>
        public ReportRow? TooEarly => Piece.Route is { Stop: PieceStop.ConformingReport, IsOver: false, Current.Stage: { } stage }
            && Reports.FirstOrDefault(report => report.Stage == stage) is { Verdict: "conforms" } report ? report : null;

        /// <summary>The stage of the step that is in work or was done last, while it is not shown to conform there; null when there is nothing to measure now.</summary>
        public string? DueStage =>
            Piece.Route.Steps.LastOrDefault(step => step.StartedAt is not null) is { Stage: { } stage } last && Stages.Contains(stage)
            && (Reports.FirstOrDefault(report => report.Stage == stage) is not { Verdict: "conforms" } newest || last.OpensByNewReport && newest.SubmittedAt < last.StartedAt) && Next.Move != Move.Measure
            && (last.State != StepState.Finished || Piece.Route.NotShown.Contains(stage))
                ? stage
                : null;

        /// <summary>Where it can be measured besides what the big button leads to: what failed first.</summary>
        public IReadOnlyList<string> Besides =>
        [
            .. FailedStages(Piece.Route, Nonconformances).Append(DueStage ?? "").Where(stage => Stages.Contains(stage) && (Next.Move != Move.Measure || stage != Next.Stage)).Distinct(),
        ];

        /// <summary>For whom the build shop passed on a report: whoever has its stage; null where it did not.</summary>
        public string? PassedOnFor(ReportRow report) => !report.OnBehalf ? null
            : Piece.Route.Steps.FirstOrDefault(step => step.Stage == report.Stage)?.OrganisationName ?? Order?.ShopName ?? "the shop";

        /// <summary>For whom the actor would measure at a stage; null for their own organisation.</summary>
        public string? OnBehalfAt(string stage) => Relation != Relation.Owner ? null
            : Piece.Route.Steps.LastOrDefault(step => step.Stage == stage) is not { } step ? Order?.ShopName
            : step.OrganisationId == Actor.OrganisationId ? null : step.OrganisationName;

        internal static IReadOnlyList<string> FailedStages(PieceRoute route, IEnumerable<NonconformanceRow> nonconformances) =>
            [route.FailedStage ?? "", .. nonconformances.Where(each => each.ClosedAt is null).Select(each => each.Stage)];
    }

    public sealed class Handler(Database database)
    {
        private const string Owner = "select name from organisation where id = @OwnerId";

        private const string Given = """
            select waits_for_kind, waits_because, nonconformance, wanted_by from steps_given_to_us() where id = @Id
            """;

        private const string WithoutSlip = "select came_without_slip(@Id)";

        private const string LineSql = """
            select l.need_date, (select promised_date from promise where line_id = l.id order by made_at desc, id desc limit 1) as promised, b.number as build
            from work_order_line l left join build b on b.id = l.build_id where l.id = @LineId
            """;

        private const string Place = """
            select b.id as before_id, b.serial as before, a.id as after_id, a.serial as after
            from piece p left join piece b on b.id = p.instead_of left join piece a on a.instead_of = p.id where p.id = @id
            """;

        private const string Reports = """
            select r.id, r.stage,
                   -- More is asked of it since the sample of its line failed.
                   case when r.verdict = 'conforms' and standing_verdict(r.piece_id, r.stage) = 'incomplete' and not exists (
                       select 1 from report n where n.piece_id = r.piece_id and n.stage = r.stage and (n.submitted_at, n.id) > (r.submitted_at, r.id)) then 'incomplete' else r.verdict end as verdict,
                   r.value_count, r.failed_count, r.unproven_count, r.submitted_at, p.name as by, r.on_behalf
            from report r left join person p on p.id = r.submitted_by where r.piece_id = @id order by r.submitted_at desc
            """;

        private const string Nonconformances = """
            select id, number, stage, opened_at, disposition, disposition_reason, disposed_at, closed_at from nonconformance where piece_id = @id order by closed_at is not null, opened_at desc
            """;

        private const string Corrected = "select exists (select 1 from correction where piece_id = @id)";

        private const string Asked = "select distinct unnest(stages) from characteristic where revision_id = @RevisionId";

        private sealed record GivenRow(string? WaitsForKind, string? WaitsBecause, string? Nonconformance, DateOnly WantedBy);

        /// <summary>The page, or null when the piece is not there for this actor.</summary>
        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await PieceRoutes.OfPieceAsync(work, id) is not { } piece)
                return null;
            var order = await OrderHead.LoadAsync(work, piece.WorkOrderId);
            var relation = actor.RelationTo(piece.OwnerId, order?.ShopId);
            if (!actor.May(Deed.SeePieces, relation))
                return null;
            var given = relation == Relation.Process && piece.Route.Current is { } current
                ? await work.RowAsync<GivenRow>(Given, new { current.Id })
                : null;
            var taken = relation == Relation.Process && piece.Route is { Done: true } && await work.ValueAsync<bool>("select taken_as_it_is(@Id)", new { piece.Route.Steps[^1].Id });
            var after = relation == Relation.Process && piece.Route is { Done: true } ? await NextStep.AfterAsync(work, piece.Route.Steps[^1].Id) : null;
            var nonconformances = await work.RowsAsync<NonconformanceRow>(Nonconformances, new { id });
            var ownerName = order?.OwnerName ?? await work.ValueAsync<string>(Owner, new { piece.OwnerId }) ?? "the build shop";
            return new Page(
                actor,
                relation,
                piece,
                NextMove.Of(piece, actor, relation, ownerName, order is null || order.AcceptedAt is not null, Waiting.Words(given?.WaitsForKind, given?.WaitsBecause, given?.Nonconformance), piece.Route.Current is { } next && await work.ValueAsync<bool>(WithoutSlip, new { next.Id }), taken, after),
                ownerName,
                order,
                await work.RowAsync<LineRow>(LineSql, new { piece.LineId }),
                given?.WantedBy,
                (await work.RowAsync<PlaceRow>(Place, new { id }))!,
                await work.RowsAsync<ReportRow>(Reports, new { id }),
                nonconformances,
                await Papers.OfPieceAsync(work, id),
                await work.RowsAsync<Event>(PieceHistory.Events, new { id }),
                actor.May(Deed.SeeAudit, Relation.Own) && relation == Relation.Owner ? await work.RowsAsync<Change>(PieceHistory.Changes, new { id }) : [],
                await PairsOfPiece.OfAsync(work, id),
                await JointsOfPiece.OfAsync(work, id),
                await work.ValueAsync<bool>(Corrected, new { id }),
                piece.Route.IsOver || taken || order?.ClosedAt is not null ? []
                    : Measurable(piece.Route, actor, relation, Page.FailedStages(piece.Route, nonconformances), await work.RowsAsync<string>(Asked, new { piece.RevisionId })))
            { Shops = relation == Relation.Owner ? await Papers.ShopsAsync(work, piece.WorkOrderId) : [] };
        }

        private static IReadOnlyList<string> Measurable(PieceRoute route, Actor actor, Relation relation, IReadOnlyList<string> failed, IReadOnlyList<string> asked) =>
        [
            .. Stages.All.Where(stage => asked.Contains(stage) && route.MayMeasure(actor, relation, stage)
                && (failed.Contains(stage) || route.Steps.Any(step => step.Stage == stage && step.StartedAt is not null))),
        ];
    }
}

/// <summary>What a step of a process shop waits for, told without the rest of the route.</summary>
public static class Waiting
{
    /// <summary>Null when the step does not wait.</summary>
    public static string? Words(string? kind, string? because, string? nonconformance) => (kind, because, nonconformance) switch
    {
        (_, _, { } number) => $"nonconformance {number} is open",
        ({ } step, "held", _) => $"held after {step}",
        ({ } step, "witness invited", _) => $"a witness is invited after {step}",
        ({ } step, _, _) => $"{step} comes first",
        _ => null,
    };
}
