using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The parts that the actor may see, a row for each of their drawings, with the revision that holds.</summary>
public static class ListParts
{
    public const int PageSize = 100;

    /// <param name="Drawing">Null for who may not see the drawing itself.</param>
    /// <param name="Released">The newest released revision.</param>
    /// <param name="Draft">The revision that is being written, for its owner only.</param>
    /// <param name="Total">Rows on all pages.</param>
    public sealed record Row(
        Guid PartId,
        string Number,
        string Name,
        string? Hand,
        string? Drawing,
        Guid? ReleasedId,
        string? Released,
        DateTimeOffset? ReleasedAt,
        Guid? DraftId,
        string? Draft,
        long Pieces,
        long Total);

    public sealed class Handler(Database database)
    {
        private const string Select = """
            select p.id as part_id, p.number, p.name, p.hand, d.number as drawing,
                   released.id as released_id, released.letter as released, released.released_at,
                   draft.id as draft_id, draft.letter as draft,
                   (select count(*) from piece where piece.part_id = p.id) as pieces, count(*) over () as total
            from part p
                 join (select distinct part_id, drawing_id from revision) r on r.part_id = p.id
                 left join drawing d on d.id = r.drawing_id
                 left join lateral (
                     select x.id, x.letter, x.released_at from revision x where x.drawing_id = r.drawing_id and x.released_at is not null
                     order by length(x.letter) desc, x.letter desc limit 1) released on true
                 left join lateral (
                     select x.id, x.letter from revision x where x.drawing_id = r.drawing_id and x.released_at is null limit 1) draft on true
            where @find = '' or strpos(lower(concat_ws(' ', p.number, p.name, p.hand, d.number, d.title)), lower(@find)) > 0
            order by p.number, d.number
            limit @PageSize offset @skip
            """;

        /// <param name="find">Any part of number, name or drawing; empty: all.</param>
        /// <param name="page">From 1.</param>
        public async Task<IReadOnlyList<Row>> HandleAsync(Actor actor, string? find, int page, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowsAsync<Row>(Select, new { find = find?.Trim() ?? "", PageSize, skip = (Math.Clamp(page, 1, 100_000) - 1) * PageSize });
        }
    }
}
