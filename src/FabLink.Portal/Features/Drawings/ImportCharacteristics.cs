using FabLink.Portal.Features.Drawings.Import;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>
/// The engineer looks at what a file or pasted text would make of a revision's table. Nothing is stored: what is taken
/// afterwards goes the way of <see cref="EditCharacteristics"/>, with the version seen here.
/// </summary>
public static class ImportCharacteristics
{
    /// <param name="File">A CSV or XLSX file; null when text was pasted.</param>
    /// <param name="OnlyThese">Balloons that the table does not name are removed; otherwise they stay.</param>
    public sealed record Request(Guid RevisionId, Stream? File, string? FileName, string? Pasted, bool OnlyThese = false);

    /// <param name="Import">Row by row, with its problems.</param>
    /// <param name="Rows">The revision's whole table as it would be.</param>
    public sealed record Preview(
        ShowRevision.Sheet Sheet, CharacteristicImport Import, IReadOnlyList<CharacteristicEntry> Rows, int New, int Changed, int Same, int Kept, int Removed, bool OnlyThese);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Read(Preview Preview) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, ShowRevision.Handler show)
    {
        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            if (await show.HandleAsync(actor, request.RevisionId, cancellation) is not { MayWrite: true } sheet)
                return new Outcome.NotFound();
            if (!sheet.IsDraft)
            {
                await using var work = await database.BeginAsync(actor, cancellation);
                return new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, request.RevisionId));
            }

            var head = sheet.Head;
            var title = new CharacteristicImport.TitleBlock(head.PartNumber, head.Letter, head.Unit, head.GeneralTolerance);
            var import = request.File is null
                ? CharacteristicImport.ReadPasted(request.Pasted ?? "", title)
                : CharacteristicImport.Read(request.File, request.FileName ?? "file", title);
            return new Outcome.Read(Merge(sheet, import, request.OnlyThese));
        }

        private static Preview Merge(ShowRevision.Sheet sheet, CharacteristicImport import, bool onlyThese)
        {
            var before = sheet.Characteristics.ToDictionary(one => one.Balloon);
            var read = import.Rows.Select(line => line.Characteristic).OfType<Characteristic>().ToList();
            var same = read.Count(one => before.TryGetValue(one.Balloon, out var old) && old.SaysTheSameAs(one));
            var added = read.Count(one => !before.ContainsKey(one.Balloon));
            var others = sheet.Characteristics.Where(old => read.TrueForAll(one => one.Balloon != old.Balloon)).ToList();
            // Rows that could not be read stand at the end, to be put right in the table.
            var rows = read.Concat(onlyThese ? [] : others).OrderBy(one => one.Balloon)
                .Select(one => CharacteristicReader.Shortest(one, sheet.Head.Unit, sheet.Head.GeneralTolerance))
                .Concat(import.Rows.Where(line => line.Characteristic is null).Select(line => line.Entry));
            return new Preview(
                sheet, import, [.. rows], added, read.Count - added - same, same,
                Kept: onlyThese ? 0 : others.Count, Removed: onlyThese ? others.Count : 0, onlyThese);
        }
    }
}
