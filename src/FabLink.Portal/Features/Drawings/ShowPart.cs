using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>A part with its drawings, their revisions, and where its pieces are.</summary>
public static class ShowPart
{
    public sealed record Head(Guid Id, Guid OwnerId, string Owner, string Number, string Name, string? Hand, DateTimeOffset CreatedAt);

    public sealed record RevisionLine(
        Guid DrawingId, string? Drawing, string? Title, Guid Id, string Letter, string? GeneralTolerance, bool Welded, string Note,
        long Characteristics, long Files, DateTimeOffset? ReleasedAt, string? ReleasedBy);

    public sealed record Sheet(Head Head, IReadOnlyList<RevisionLine> Revisions, IReadOnlyList<PiecesInWork.Row> Pieces, bool MayWrite);

    public sealed class Handler(Database database)
    {
        private const string SelectHead = """
            select p.id, p.owner_id, o.name as owner, p.number, p.name, p.hand, p.created_at
            from part p join organisation o on o.id = p.owner_id where p.id = @part
            """;

        private const string SelectRevisions = """
            select r.drawing_id, d.number as drawing, d.title, r.id, r.letter, r.general_tolerance, r.welded, r.note,
                   (select count(*) from characteristic c where c.revision_id = r.id) as characteristics,
                   (select count(*) from revision_file f where f.revision_id = r.id) as files,
                   r.released_at, releaser.name as released_by
            from revision r left join drawing d on d.id = r.drawing_id left join person releaser on releaser.id = r.released_by
            where r.part_id = @part order by d.number, length(r.letter) desc, r.letter desc
            """;

        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Sheet?> HandleAsync(Actor actor, Guid part, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(SelectHead, new { part }) is not { } head)
                return null;
            var revisions = await work.RowsAsync<RevisionLine>(SelectRevisions, new { part });
            var pieces = new List<PiecesInWork.Row>();
            foreach (var drawing in revisions.Select(revision => revision.DrawingId).Distinct())
                pieces.AddRange(await PiecesInWork.OfDrawingAsync(work, drawing));
            return new Sheet(head, revisions, pieces, head.OwnerId == actor.OrganisationId && actor.May(Deed.WriteDrawings, Relation.Own));
        }
    }
}
