using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The steps given to one's own organisation: what can be done now, and what is on its way. No order is shown with them.</summary>
public static class ListSteps
{
    public sealed record Row(
        Guid Id,
        Guid PieceId,
        string Serial,
        string PartNumber,
        string PartName,
        string Revision,
        string OwnerName,
        string Kind,
        string Gate,
        string? OpensBy,
        string? Stage,
        DateTimeOffset? StartedAt,
        DateTimeOffset? FinishedAt,
        DateTimeOffset? AskedAt,
        string? WaitsForKind,
        string? WaitsBecause,
        string? Nonconformance,
        DateOnly WantedBy,
        string? Slip,
        DateTimeOffset? ShippedAt,
        bool WithoutSlip,
        string? Wrong)
    {
        /// <summary>What is to be known of a piece before its step is started.</summary>
        public string? Remark => (Slip, ShippedAt) is ({ } slip, { } at) ? $"on the way since {LocalTime.Day(at)}, {slip}" : WithoutSlip ? "no packing slip says that it was sent" : null;

        public string? Waits => Waiting.Words(WaitsForKind, WaitsBecause, Nonconformance);

        /// <summary>Work is over, and what holds the piece is the gate after it.</summary>
        public bool Held => FinishedAt is not null;
    }

    /// <summary>A step of ours whose piece wants values at its stage.</summary>
    /// <param name="Wrong">What the values that are there say: <c>does not conform</c> with the nonconformance, <c>not proven</c>; null where they say nothing of that.</param>
    public sealed record Measured(Guid PieceId, string Serial, string PartNumber, string Kind, string Stage, string? Wrong);

    public sealed record Page(IReadOnlyList<StepGroup> Now, IReadOnlyList<Measured> ToMeasure, IReadOnlyList<Row> Held, IReadOnlyList<Row> Coming, DateOnly Today);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Select = """
            select s.id, s.piece_id, p.serial, part.number as part_number, part.name as part_name, v.letter as revision, o.name as owner_name,
                   r.kind, r.gate, r.opens_by, r.stage, s.started_at, s.finished_at, s.asked_at, g.waits_for_kind, g.waits_because, g.nonconformance, g.wanted_by,
                   slip.number as slip, slip.shipped_at, s.started_at is null and came_without_slip(s.id) as without_slip, wrong_at_step(s.id) as wrong
            from steps_given_to_us() g
            join piece_step s on s.id = g.id
            join route_step r on r.id = s.route_step_id
            join piece p on p.id = s.piece_id
            join part on part.id = p.part_id
            join revision v on v.id = p.revision_id
            join organisation o on o.id = p.owner_id
            left join lateral (
                select k.number, k.shipped_at from packing_slip_piece x join packing_slip k on k.id = x.packing_slip_id
                where x.piece_id = p.id and k.to_id = s.organisation_id
                  and not exists (select 1 from piece_step a where a.piece_id = p.id and a.organisation_id = s.organisation_id and a.started_at >= k.shipped_at)) slip on true
            where not exists (select 1 from piece_stand(p.id) st where st.ended is not null)
            order by g.wanted_by, p.serial, s.ordinal
            """;

        private const string ToMeasure = """
            select p.id as piece_id, p.serial, part.number as part_number, r.kind, r.stage, wrong_at_step(s.id) as wrong
            from steps_to_measure() g join piece_step s on s.id = g.id join route_step r on r.id = s.route_step_id join piece p on p.id = s.piece_id join part on part.id = p.part_id
            order by p.serial, s.ordinal limit 200
            """;

        public async Task<Page> HandleAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var rows = await work.RowsAsync<Row>(Select);
            var now = rows.Where(row => DeedOf(row) is not null)
                .GroupBy(row => (Deed: DeedOf(row)!, row.Kind, row.PartNumber, row.PartName, row.OwnerName))
                .Select(group => new StepGroup(
                    group.Key.Deed,
                    group.Key.Kind,
                    $"{group.Key.PartNumber} {group.Key.PartName}, for {group.Key.OwnerName}",
                    null,
                    group.Min(row => row.WantedBy),
                    [.. group.Select(row => new StepGroup.Item(row.Id, row.PieceId, row.Serial, group.Key.Deed == "start" ? row.Remark : row.Wrong))],
                    "/steps"));
            var measured = await work.RowsAsync<Measured>(ToMeasure);
            return new Page(
                [.. now],
                measured,
                // What only waits to be measured stands there.
                [.. rows.Where(row => row.Held && DeedOf(row) is null && (row.OpensBy != "report" || !measured.Any(each => each.PieceId == row.PieceId && each.Stage == row.Stage)))],
                [.. rows.Where(row => !row.Held && row.StartedAt is null && row.Waits is not null).Take(200)],
                DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime));
        }

        private static string? DeedOf(Row row) => row switch
        {
            { StartedAt: not null, FinishedAt: null } => "finish",
            { FinishedAt: not null, Gate: "witness", AskedAt: null, Nonconformance: null } => "witness",
            { StartedAt: null, Waits: null } => "start",
            _ => null,
        };
    }
}
