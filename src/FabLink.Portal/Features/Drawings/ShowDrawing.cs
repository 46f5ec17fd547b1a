using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>What somebody must know before a drawing gets its next revision: the last one, and where the pieces are.</summary>
public static class ShowDrawing
{
    public sealed record Head(
        Guid Id, string Number, string Title, string PartNumber, string PartName, string? Hand,
        Guid LastId, string LastLetter, DateTimeOffset? ReleasedAt, long Characteristics, long Files);

    public sealed record Sheet(Head Head, IReadOnlyList<PiecesInWork.Row> Pieces)
    {
        public string? Next => RevisionLetter.After(Head.LastLetter);

        public Guid? DraftId => Head.ReleasedAt is null ? Head.LastId : null;
    }

    public sealed class Handler(Database database)
    {
        private const string Select = """
            select d.id, d.number, d.title, p.number as part_number, p.name as part_name, p.hand,
                   r.id as last_id, r.letter as last_letter, r.released_at,
                   (select count(*) from characteristic c where c.revision_id = r.id) as characteristics,
                   (select count(*) from revision_file f where f.revision_id = r.id) as files
            from drawing d join part p on p.id = d.part_id
                 join lateral (select * from revision x where x.drawing_id = d.id order by length(x.letter) desc, x.letter desc limit 1) r on true
            where d.id = @drawing and d.owner_id = @OrganisationId
            """;

        /// <returns>Null when the actor's organisation has no such drawing.</returns>
        public async Task<Sheet?> HandleAsync(Actor actor, Guid drawing, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(Select, new { drawing, actor.OrganisationId }) is not { } head)
                return null;
            return new Sheet(head, [.. (await PiecesInWork.OfDrawingAsync(work, drawing)).Where(piece => piece.Step is not null)]);
        }
    }
}
