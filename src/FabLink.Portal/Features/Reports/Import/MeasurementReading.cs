using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>One pass over the rows of a measurement file.</summary>
internal sealed class MeasurementReading
{
    private readonly Sheet sheet;
    private readonly TableHeader<MeasurementField> header;
    private readonly TableProblems problems;
    private readonly List<MeasurementRow> rows = [];
    private readonly List<int> blankBetween = [];
    private readonly Dictionary<MeasurementField, List<MeasurementFile.Claim>> claims = new()
    {
        [MeasurementField.Revision] = [],
        [MeasurementField.Part] = [],
        [MeasurementField.Stage] = [],
    };

    private readonly int balloonColumn;
    private readonly int instanceColumn;
    private readonly int valueColumn;
    private readonly int unitColumn;
    private readonly int uncertaintyColumn;
    private readonly int instrumentColumn;
    private readonly int noteColumn;
    private readonly int serialColumn;

    private Unit? unitOfFile;
    private Unit? unitOfUncertainty;
    private string serialOfFile = "";
    private string instrumentOfFile = "";
    private (string Text, Unit? Unit, bool Known) lastUnit = ("", null, true);

    public MeasurementReading(Sheet sheet, TableHeader<MeasurementField> header)
    {
        this.sheet = sheet;
        this.header = header;
        problems = new TableProblems(sheet.FileName);
        balloonColumn = header.Column(MeasurementField.Balloon);
        instanceColumn = header.Column(MeasurementField.Instance);
        valueColumn = header.Column(MeasurementField.Value);
        unitColumn = header.Column(MeasurementField.Unit);
        uncertaintyColumn = header.Column(MeasurementField.Uncertainty);
        instrumentColumn = header.Column(MeasurementField.Instrument);
        noteColumn = header.Column(MeasurementField.Note);
        serialColumn = header.Column(MeasurementField.Serial);
    }

    public MeasurementFile Read()
    {
        ReadAbove();
        var previous = sheet.Rows[header.Index].Number;
        for (var index = header.Index + 1; index < sheet.Rows.Count; index++)
        {
            var row = sheet.Rows[index];
            for (var blank = previous + 1; blank < row.Number && blankBetween.Count < 10; blank++)
                blankBetween.Add(blank);
            previous = row.Number;
            ReadRow(row);
        }

        if (blankBetween.Count > 0)
            problems.Warn(blankBetween[0], "", $"Blank rows were skipped: {string.Join(", ", blankBetween)}{(blankBetween.Count == 10 ? " …" : "")}.");
        if (rows.Count == 0 && !problems.AnyRefusal)
            problems.Refuse(null, "", "The file has headings but no values below them.");
        foreach (var remark in sheet.Remarks)
            problems.Warn(null, "", remark);

        return new MeasurementFile
        {
            Name = sheet.FileName,
            Unit = unitOfFile,
            UncertaintyUnit = unitOfUncertainty,
            Rows = rows,
            Problems = problems.Sorted(),
            Revisions = claims[MeasurementField.Revision],
            Parts = claims[MeasurementField.Part],
            Stages = claims[MeasurementField.Stage],
            IgnoredColumns = header.Ignored,
        };
    }

    private void ReadAbove()
    {
        var headings = sheet.Rows[header.Index].Number;
        foreach (var (field, heading) in header.Doubled)
            problems.Refuse(headings, MeasurementColumns.Word(field), $"Two columns can be the {MeasurementColumns.Word(field)}; “{heading}” is the second. Rename or delete one of them.");
        unitOfFile = UnitOf(header.Hint(MeasurementField.Value)) ?? UnitOf(header.Hint(MeasurementField.Unit));
        unitOfUncertainty = UnitOf(header.Hint(MeasurementField.Uncertainty));

        foreach (var (row, field, value) in header.Above(sheet, MeasurementColumns.Names))
        {
            switch (field)
            {
                case MeasurementField.Unit when UnitOf(value) is { } unit:
                    unitOfFile = unit;
                    break;
                case MeasurementField.Unit:
                    problems.Refuse(row, "unit", $"“{TableProblems.Short(value)}” is not a unit known here. Use mm, µm, in, mil, deg, dms or rad.");
                    break;
                case MeasurementField.Serial:
                    serialOfFile = value;
                    break;
                case MeasurementField.Instrument:
                    instrumentOfFile = value;
                    break;
                case MeasurementField.Revision or MeasurementField.Part or MeasurementField.Stage:
                    Claim(field, value, row);
                    break;
                default:
                    break;
            }
        }
    }

    private void ReadRow(SheetRow row)
    {
        if (row.Count > header.LastColumn + 1 && ExtraCell(row) is { } extra)
        {
            problems.Refuse(row.Number, "", $"The row has more cells than there are headings (“{TableProblems.Short(extra)}”). A decimal comma in a comma separated file does that: use semicolons, or points, or quotation marks.");
            return;
        }

        var balloon = row[balloonColumn];
        var value = row[valueColumn];
        var good = problems.Accepts(row, balloon, "balloon") && problems.Accepts(row, value, "value");
        if (good && value.IsBlank)
        {
            if (!balloon.IsBlank)
                problems.Warn(row.Number, "value", $"“{TableProblems.Short(balloon.Text)}” has no value; it counts as not measured.");
            return;
        }

        if (good && ReadBalloon(row, balloon, out var number, out var instance) && ReadInstance(row, ref instance))
            ReadValues(row, value, number, instance);
    }

    private void ReadValues(SheetRow row, Cell value, int balloon, int? instance)
    {
        var good = ReadUnit(row, out var unit);
        var (text, plusMinus) = ValueText.Split(value.Text, unit ?? unitOfFile);
        var read = ValueText.Read(text, unit ?? unitOfFile, out _);
        if (value.Kind == CellKind.Logical)
            read = new ValueText(null, null, false, value.Text == "TRUE");
        if (read.Unit is { } written && unit is { } beside && !AreSame(written, beside))
        {
            problems.Refuse(row.Number, "unit", $"The value says {Units.Symbol(written)} and the unit says {Units.Symbol(beside)}. Leave one of them out.");
            good = false;
        }

        good &= ReadUncertainty(row, plusMinus, read.Unit ?? unit ?? unitOfFile, out var uncertainty, out var uncertaintyUnit);
        good &= ReadWords(row, serialColumn, "serial", strict: true, out var serial);
        good &= ReadWords(row, instrumentColumn, "instrument", strict: false, out var instrument);
        good &= ReadWords(row, noteColumn, "note", strict: false, out _);
        foreach (var field in claims.Keys)
        {
            if (header.Column(field) is >= 0 and var column && !row[column].IsBlank)
                Claim(field, row[column].Text.Trim(), row.Number);
        }

        if (good)
        {
            rows.Add(new MeasurementRow
            {
                Row = row.Number,
                Balloon = balloon,
                Instance = instance,
                Serial = serial.Length > 0 ? serial : serialOfFile,
                Typed = value.Text,
                Number = read.Number,
                IsArcSeconds = read.IsArcSeconds,
                Go = read.Go,
                Unit = read.Unit ?? unit,
                Uncertainty = uncertainty,
                UncertaintyUnit = uncertaintyUnit,
                Instrument = instrument.Length > 0 ? instrument : instrumentOfFile,
                // A note is kept to the letter.
                Note = row[noteColumn].Text,
            });
        }
    }

    // Degrees may be written decimally or with minutes under either of their units.
    private static bool AreSame(Unit written, Unit beside) =>
        written == beside || (written == Unit.DegreeMinuteSecond && beside == Unit.Degree);

    private string? ExtraCell(SheetRow row)
    {
        for (var column = header.LastColumn + 1; column < row.Count; column++)
        {
            if (!row[column].IsBlank)
                return row[column].Text;
        }

        return null;
    }

    private bool ReadBalloon(SheetRow row, Cell cell, out int balloon, out int? instance)
    {
        if (BalloonText.TryParse(cell.Text, out balloon, out instance))
            return true;
        problems.Refuse(row.Number, "balloon", cell.IsBlank
            ? "There is a value but no balloon. Say which characteristic it is a value of."
            : $"“{TableProblems.Short(cell.Text)}” is not a balloon. Write its number, like 12, or 12.3 for the third of several.");
        return false;
    }

    private bool ReadInstance(SheetRow row, ref int? instance)
    {
        var cell = row[instanceColumn];
        if (instanceColumn < 0 || cell.IsBlank)
            return true;
        if (!problems.Accepts(row, cell, "instance"))
            return false;
        if (!BalloonText.TryParse(cell.Text, out var number, out var fraction) || fraction is not null || number > BalloonText.LargestInstance)
        {
            problems.Refuse(row.Number, "instance", $"“{TableProblems.Short(cell.Text)}” is not an instance. Write a whole number from 1.");
            return false;
        }

        if (instance is { } beside && beside != number)
        {
            problems.Refuse(row.Number, "instance", $"The balloon says instance {beside} and this column says {number}. Leave one of them out.");
            return false;
        }

        instance = number;
        return true;
    }

    private bool ReadUnit(SheetRow row, out Unit? unit)
    {
        unit = null;
        var cell = row[unitColumn];
        if (unitColumn < 0 || cell.IsBlank)
            return true;
        if (!problems.Accepts(row, cell, "unit"))
            return false;
        // A dash beside go or no go is no unit, and no fault either.
        if (cell.Text != lastUnit.Text)
            lastUnit = (cell.Text, UnitOf(cell.Text), Units.TryParse(cell.Text, out _));
        unit = lastUnit.Unit;
        if (lastUnit.Known)
            return true;
        problems.Refuse(row.Number, "unit", $"“{TableProblems.Short(cell.Text)}” is not a unit known here. Use mm, µm, in, mil, deg, dms or rad.");
        return false;
    }

    /// <param name="beside">What stood behind ± in the value's own field; empty for nothing.</param>
    private bool ReadUncertainty(SheetRow row, string beside, Unit? unit, out decimal? uncertainty, out Unit? own)
    {
        uncertainty = null;
        own = null;
        var cell = row[uncertaintyColumn];
        var given = uncertaintyColumn >= 0 && !cell.IsBlank;
        if (!given && beside.Length == 0)
            return true;
        if (given && beside.Length > 0)
        {
            problems.Refuse(row.Number, "uncertainty", $"It stands beside the value (±{TableProblems.Short(beside)}) and in its own field as well. Leave one of them out.");
            return false;
        }

        if (given && !problems.Accepts(row, cell, "uncertainty"))
            return false;
        var text = given ? cell.Text.TrimStart(' ', '±') : beside;
        var read = ValueText.Read(text, unit, out var refusal);
        if (read.Number is not { } number || number <= 0)
        {
            problems.Refuse(row.Number, "uncertainty", read.Number is null ? refusal ?? $"“{TableProblems.Short(text)}” is not a number." : "An uncertainty is more than nothing, and never negative; leave it empty where it is not known.");
            return false;
        }

        uncertainty = number;
        own = read.Unit;
        // From here on that unit means seconds of arc; a plain number beside it counts as degrees.
        if (own == Unit.DegreeMinuteSecond && !read.IsArcSeconds)
            own = Unit.Degree;
        return true;
    }

    private bool ReadWords(SheetRow row, int column, string field, bool strict, out string text)
    {
        var cell = row[column];
        text = cell.Text.Trim();
        if (column < 0 || cell.IsBlank)
            return true;
        if (strict)
            return problems.Accepts(row, cell, field);
        if (cell.Kind == CellKind.Formula)
            problems.Warn(row.Number, field, $"The {field} is a formula; what the spreadsheet last showed was taken: “{TableProblems.Short(text)}”.");
        return true;
    }

    private void Claim(MeasurementField field, string text, int row)
    {
        var known = claims[field];
        foreach (var claim in known)
        {
            if (claim.Text.Equals(text, StringComparison.OrdinalIgnoreCase))
                return;
        }

        if (known.Count < 20)
            known.Add(new MeasurementFile.Claim(text, row));
    }

    private static Unit? UnitOf(string text) => Units.TryParse(text, out var unit) && unit != Unit.None ? unit : null;
}
