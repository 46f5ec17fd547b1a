using FabLink.Engineering;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Drawings.Import;

/// <summary>
/// A table of characteristics from a file or from pasted text, as a preview: every row with what was understood and what
/// is wrong, nothing stored. A requirement may be written as on the drawing or spread over nominal, deviations and limits.
/// </summary>
/// <param name="Rows">In the order of the table.</param>
/// <param name="Problems">Of the table as a whole and of its rows.</param>
/// <param name="IgnoredColumns">Headings that mean nothing here.</param>
public sealed record CharacteristicImport(
    IReadOnlyList<CharacteristicImport.Line> Rows, IReadOnlyList<TableProblem> Problems, IReadOnlyList<string> IgnoredColumns)
{
    public bool IsRefused => Problems.Any(problem => problem.Severity == Severity.Refuse);

    /// <summary>What a person would have typed, for the table of the page; ditto marks and blanks stand as they were.</summary>
    public IReadOnlyList<CharacteristicEntry> Entries => [.. Rows.Select(line => line.Entry)];

    /// <param name="Row">As the spreadsheet numbers it.</param>
    /// <param name="Entry">Its fields as text.</param>
    /// <param name="Characteristic">As it would be kept; null when the row has a problem.</param>
    public sealed record Line(int Row, CharacteristicEntry Entry, Characteristic? Characteristic);

    /// <summary>What the revision's title block says, against which the table is read.</summary>
    /// <param name="Part">A table that names another part is refused.</param>
    /// <param name="Revision">A table that names another revision is refused.</param>
    /// <param name="Unit">Of bare numbers: mm or in.</param>
    /// <param name="General">As written, or nothing.</param>
    public sealed record TitleBlock(string Part, string Revision, string Unit, string? General);

    /// <summary>Never throws for what is in the file.</summary>
    /// <exception cref="InputError">The title block's general tolerance is not one.</exception>
    public static CharacteristicImport Read(Stream stream, string fileName, TitleBlock title) =>
        Read(SheetReader.Read(stream, fileName), title);

    /// <summary>Text copied out of a spreadsheet, with its row of headings.</summary>
    /// <exception cref="InputError">The title block's general tolerance is not one.</exception>
    public static CharacteristicImport ReadPasted(string text, TitleBlock title) =>
        Read(SheetReader.ReadPasted(text), title);

    private static CharacteristicImport Read(SheetReading reading, TitleBlock title)
    {
        if (reading is SheetReading.Refused refused)
            return Refused(refused.FileName, refused.Row, refused.Reason);
        var sheet = ((SheetReading.Table)reading).Sheet;
        var header = TableHeader<CharacteristicField>.Find(sheet, CharacteristicColumns.Names, found =>
            found.Has(CharacteristicField.Balloon) && new[]
            {
                CharacteristicField.Requirement, CharacteristicField.Nominal, CharacteristicField.Lower, CharacteristicField.Upper,
            }.Any(found.Has));
        return header is null
            ? Refused(sheet.FileName, null, "No row of headings with a balloon and a requirement (or a nominal, or limits) was found. Name the columns in one row, like: balloon, requirement, class, stages.")
            : new CharacteristicReading(sheet, header, title).Read();
    }

    private static CharacteristicImport Refused(string name, int? row, string reason) =>
        new([], [new TableProblem(Severity.Refuse, name, row, "", reason)], []);
}
