using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>One revision as a sheet: title block, files, characteristics, and what is in work of the drawing.</summary>
public static class ShowRevision
{
    public sealed record Head(
        Guid Id,
        Guid OwnerId,
        string Owner,
        Guid PartId,
        string PartNumber,
        string PartName,
        string? Hand,
        Guid DrawingId,
        string? Drawing,
        string? Title,
        string Letter,
        string Unit,
        string? GeneralTolerance,
        bool Welded,
        string Note,
        DateTimeOffset CreatedAt,
        string? CreatedBy,
        DateTimeOffset? ReleasedAt,
        string? ReleasedBy,
        string? NewerLetter,
        DateTimeOffset? NewerAt,
        int RowVersion)
    {
        /// <summary>The part as the trade calls it: number, name, hand.</summary>
        public string Part => $"{PartNumber} {Words.Handed(PartName, Hand)}";
    }

    public sealed record FileLine(Guid Id, string Purpose, string Name, string FileType, long Size, DateTimeOffset AddedAt);

    /// <param name="Pieces">Pieces of the drawing's other revisions on open work orders.</param>
    /// <param name="MayWrite">The actor may change it while it is a draft.</param>
    public sealed record Sheet(
        Head Head,
        IReadOnlyList<FileLine> Files,
        IReadOnlyList<Characteristic> Characteristics,
        IReadOnlyList<HolePatternDrawn> Patterns,
        IReadOnlyList<PiecesInWork.Row> Pieces,
        bool MayWrite,
        bool MayRelease)
    {
        public bool IsDraft => Head.ReleasedAt is null;

        /// <summary>ISO 13920: the drawing of a welded part names its general tolerance.</summary>
        public bool LacksGeneralTolerance => Head is { Welded: true, GeneralTolerance: null };
    }

    public sealed class Handler(Database database)
    {
        private const string SelectHead = """
            select r.id, r.owner_id, o.name as owner, p.id as part_id, p.number as part_number, p.name as part_name, p.hand,
                   r.drawing_id, d.number as drawing, d.title, r.letter, r.unit, r.general_tolerance, r.welded, r.note,
                   r.created_at, creator.name as created_by, r.released_at, releaser.name as released_by,
                   newer.letter as newer_letter, newer.released_at as newer_at, r.row_version
            from revision r join part p on p.id = r.part_id join organisation o on o.id = r.owner_id
                 left join drawing d on d.id = r.drawing_id
                 left join person creator on creator.id = r.created_by
                 left join person releaser on releaser.id = r.released_by
                 left join lateral newer_revision(r.id) newer on true
            where r.id = @revision
            """;

        private const string SelectFiles = """
            select id, purpose, name, file_type, size, added_at from revision_file where revision_id = @revision
            order by array_position(array['drawing', 'model', 'flat pattern', 'mask map', 'photo', 'other'], purpose), name
            """;

        private const string Located = $"select {LocatedRow.Columns} from characteristic where revision_id = @revision and locates <> ''";

        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Sheet?> HandleAsync(Actor actor, Guid revision, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(SelectHead, new { revision }) is not { } head)
                return null;
            var own = head.OwnerId == actor.OrganisationId;
            return new Sheet(
                head,
                await work.RowsAsync<FileLine>(SelectFiles, new { revision }),
                await RevisionRow.CharacteristicsAsync(work, revision),
                HolePatterns.Of(await work.RowsAsync<LocatedRow>(Located, new { revision })),
                [.. (await PiecesInWork.OfDrawingAsync(work, head.DrawingId)).Where(piece => piece.Piece.RevisionId != revision && piece.Step is not null)],
                own && actor.May(Deed.WriteDrawings, Relation.Own),
                own && actor.May(Deed.ReleaseRevision, Relation.Own));
        }
    }
}
