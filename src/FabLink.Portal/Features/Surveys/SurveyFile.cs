using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;
using ValueText = FabLink.Portal.Features.Reports.Import.ValueText;

namespace FabLink.Portal.Features.Surveys;

/// <summary>One hole or point as found. Lengths in mm, the slot's direction in degrees; U expanded, k = 2.</summary>
public sealed record SurveyPoint(
    string Name, decimal X, decimal Y, decimal? Z, decimal? Diameter, decimal? SlotLength, decimal? SlotDegrees, decimal? Uncertainty, string Note);

/// <summary>A survey file as it was understood; nothing refused means it may be kept.</summary>
public sealed record SurveyFile(IReadOnlyList<SurveyPoint> Points, string Instrument, IReadOnlyList<TableProblem> Problems)
{
    public const int MostPoints = 5_000;

    private enum Field
    {
        Hole,
        X,
        Y,
        Z,
        Diameter,
        SlotLength,
        SlotDegrees,
        Uncertainty,
        Note,
        Unit,
        Instrument,
    }

    private static readonly Dictionary<string, Field> Names = Read(
        (Field.Hole, "hole point name no nr number #"),
        (Field.X, "x xmm"),
        (Field.Y, "y ymm"),
        (Field.Z, "z zmm"),
        (Field.Diameter, "diameter dia d ø width bore"),
        (Field.SlotLength, "slot slotlength length"),
        (Field.SlotDegrees, "slotangle angle direction slotdirection"),
        (Field.Uncertainty, "uncertainty u u95 expandeduncertainty"),
        (Field.Note, "note remark comment where"),
        (Field.Unit, "unit units"),
        (Field.Instrument, "instrument gauge tool"));

    /// <summary>Reads a CSV or XLSX file: hole, x, y and, where they are there, z, diameter, slot, uncertainty, note.</summary>
    public static SurveyFile Read(Stream content, string fileName)
    {
        var problems = new TableProblems(fileName);
        switch (SheetReader.Read(content, fileName))
        {
            case SheetReading.Table { Sheet: var sheet }:
                return Read(sheet, problems);
            case SheetReading.Refused refused:
                problems.Refuse(refused.Row, "", refused.Reason);
                break;
        }

        return new SurveyFile([], "", problems.Sorted());
    }

    private static SurveyFile Read(Sheet sheet, TableProblems problems)
    {
        var header = TableHeader<Field>.Find(sheet, Names, found => found.Has(Field.Hole) && found.Has(Field.X) && found.Has(Field.Y));
        if (header is null)
        {
            problems.Refuse(null, "", "No row names the columns hole, x and y. Give them headings.");
            return new SurveyFile([], "", problems.Sorted());
        }

        var (unit, instrument) = (Unit.Millimetre, "");
        foreach (var (row, field, value) in header.Above(sheet, Names))
        {
            if (field == Field.Instrument)
                instrument = value;
            else if (field == Field.Unit && Units.TryParse(value, out var stated) && stated is Unit.Millimetre or Unit.Inch)
                unit = stated;
            else if (field == Field.Unit)
                problems.Refuse(row, "unit", $"“{TableProblems.Short(value)}” is not a unit of a survey; use mm or in.");
        }

        if (Units.TryParse(header.Hint(Field.X), out var hinted) && hinted is Unit.Millimetre or Unit.Inch)
            unit = hinted;
        var points = new List<SurveyPoint>();
        var taken = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var row in sheet.Rows.Skip(header.Index + 1).Take(MostPoints + 1))
            ReadRow(row, header, unit, points, taken, problems);
        if (points.Count > MostPoints)
            problems.Refuse(null, "", $"A survey holds at most {MostPoints} points.");
        if (points.Count == 0 && !problems.AnyRefusal)
            problems.Refuse(null, "", "The file has headings but no points below them.");
        foreach (var remark in sheet.Remarks)
            problems.Warn(null, "", remark);
        return new SurveyFile(points, instrument, problems.Sorted());
    }

    private static void ReadRow(SheetRow row, TableHeader<Field> header, Unit unit, List<SurveyPoint> points, Dictionary<string, int> taken, TableProblems problems)
    {
        var name = row[header.Column(Field.Hole)].Text.Trim();
        if (name.Length is 0 or > 40)
        {
            problems.Refuse(row.Number, "hole", name.Length == 0 ? "The row has no hole: every point needs its name." : "A name has at most 40 characters.");
            return;
        }

        if (!taken.TryAdd(name, row.Number))
        {
            problems.Refuse(row.Number, "hole", $"Hole {name} stands in row {taken[name]} already.");
            return;
        }

        if (header.Has(Field.Unit) && row[header.Column(Field.Unit)].Text.Trim() is { Length: > 0 } stated)
        {
            if (!Units.TryParse(stated, out unit) || unit is not (Unit.Millimetre or Unit.Inch))
            {
                problems.Refuse(row.Number, "unit", $"“{TableProblems.Short(stated)}” is not a unit of a survey; use mm or in.");
                return;
            }
        }

        var good = true;
        decimal? Number(Field field, string word, bool needed, bool isAngle = false)
        {
            var cell = header.Has(field) ? row[header.Column(field)] : Cell.Empty;
            if (cell.IsBlank)
            {
                if (needed)
                {
                    problems.Refuse(row.Number, word, $"Hole {name} has no {word}.");
                    good = false;
                }

                return null;
            }

            if (!problems.Accepts(row, cell, word))
            {
                good = false;
                return null;
            }

            var read = ValueText.Read(cell.Text, isAngle ? Unit.Degree : unit, out _);
            if (read.Number is not { } number || Math.Abs(number) > 10_000_000 || (read.Unit is { } own && Units.IsAngle(own) != isAngle))
            {
                problems.Refuse(row.Number, word, $"“{TableProblems.Short(cell.Text)}” is not a {(isAngle ? "direction in degrees" : "length")}.");
                good = false;
                return null;
            }

            var inBase = read.IsArcSeconds ? number : Units.ToBase(number, read.Unit ?? (isAngle ? Unit.Degree : unit));
            return isAngle ? inBase / 3600 : inBase;
        }

        var x = Number(Field.X, "x", needed: true);
        var y = Number(Field.Y, "y", needed: true);
        var z = Number(Field.Z, "z", needed: false);
        var diameter = Number(Field.Diameter, "diameter", needed: false);
        var slot = Number(Field.SlotLength, "slot length", needed: false);
        var degrees = Number(Field.SlotDegrees, "slot direction", needed: slot is not null, isAngle: true);
        var uncertainty = Number(Field.Uncertainty, "uncertainty", needed: false);
        if (diameter <= 0 || uncertainty < 0 || (slot is not null && !(slot >= diameter)))
        {
            problems.Refuse(row.Number, "", $"Hole {name}: a diameter is more than nothing, an uncertainty not less, and a slot is at least as long as it is wide.");
            good = false;
        }

        if (good)
            points.Add(new SurveyPoint(name, x!.Value, y!.Value, z, diameter, slot, slot is null ? null : degrees, uncertainty, Note(row, header)));
    }

    private static string Note(SheetRow row, TableHeader<Field> header)
    {
        var text = header.Has(Field.Note) ? row[header.Column(Field.Note)].Text.Trim() : "";
        return text.Length > 200 ? text[..200] : text;
    }

    private static Dictionary<string, Field> Read(params (Field Field, string Words)[] columns) =>
        columns.SelectMany(column => column.Words.Split(' '), (column, word) => (word, column.Field)).ToDictionary();
}
