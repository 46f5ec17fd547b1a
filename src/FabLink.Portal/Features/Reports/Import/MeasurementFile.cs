using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>
/// A file of measured values, CSV or XLSX: rows as they stand, and what is wrong with them before anybody asks what they
/// are values of. A row with a refusal is not in <see cref="Rows"/>. The format is described in docs/measurement-files.md.
/// </summary>
public sealed record MeasurementFile
{
    public required string Name { get; init; }

    /// <summary>Said above the table or in the heading of the values: for values of that kind without a unit of their own.</summary>
    public Unit? Unit { get; init; }

    /// <summary>Said in the heading of the uncertainties; null when they are in the unit of their value.</summary>
    public Unit? UncertaintyUnit { get; init; }

    public IReadOnlyList<MeasurementRow> Rows { get; init; } = [];

    public IReadOnlyList<TableProblem> Problems { get; init; } = [];

    /// <summary>Said above the table or in its columns, each with the first row that says so; empty when nowhere.</summary>
    public IReadOnlyList<Claim> Revisions { get; init; } = [];

    /// <inheritdoc cref="Revisions"/>
    public IReadOnlyList<Claim> Parts { get; init; } = [];

    /// <inheritdoc cref="Revisions"/>
    public IReadOnlyList<Claim> Stages { get; init; } = [];

    /// <summary>Headings that mean nothing here; their columns were not read.</summary>
    public IReadOnlyList<string> IgnoredColumns { get; init; } = [];

    public bool IsRefused => Problems.Any(problem => problem.Severity == Severity.Refuse);

    /// <summary>Something the file says about itself, and the row that says so first.</summary>
    public sealed record Claim(string Text, int Row);

    /// <summary>Never throws for what is in the file; a file that is no table has one problem and no rows.</summary>
    public static MeasurementFile Read(Stream stream, string fileName) => Read(SheetReader.Read(stream, fileName));

    /// <summary>Text copied out of a spreadsheet, with its row of headings.</summary>
    public static MeasurementFile ReadPasted(string text) => Read(SheetReader.ReadPasted(text));

    public static MeasurementFile Read(Sheet sheet)
    {
        var header = TableHeader<MeasurementField>.Find(
            sheet, MeasurementColumns.Names, found => found.Has(MeasurementField.Balloon) && found.Has(MeasurementField.Value));
        return header is null
            ? Refused(sheet.FileName, null, "No row of headings with a balloon and a value column was found. Name the columns in one row, like: balloon, value, unit.")
            : new MeasurementReading(sheet, header).Read();
    }

    private static MeasurementFile Read(SheetReading reading) => reading is SheetReading.Refused refused
        ? Refused(refused.FileName, refused.Row, refused.Reason)
        : Read(((SheetReading.Table)reading).Sheet);

    private static MeasurementFile Refused(string name, int? row, string reason) => new()
    {
        Name = name,
        Problems = [new TableProblem(Severity.Refuse, name, row, "", reason)],
    };
}
