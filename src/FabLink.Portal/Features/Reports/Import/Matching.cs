using System.Runtime.InteropServices;
using FabLink.Engineering;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>Holds the rows of a measurement file against what is expected: which value belongs to which instance of which piece.</summary>
public sealed class Matching
{
    private readonly MeasurementFile file;
    private readonly Expectation expected;
    private readonly TableProblems problems;
    private readonly PieceNames names;
    private readonly Dictionary<int, int> byBalloon = [];
    private readonly int[] firstSlot;
    private readonly int slots;

    // Per piece, created with its first value: the match of each slot.
    private readonly MatchedValue?[]?[] taken;
    private readonly List<(int Piece, int Characteristic, MeasurementRow Row)> unnumbered = [];
    private readonly HashSet<int> saidNotAsked = [];
    private readonly HashSet<int> saidNotOurs = [];
    private bool saidNoUnit;

    private Matching(MeasurementFile file, Expectation expected)
    {
        this.file = file;
        this.expected = expected;
        problems = new TableProblems(file.Name);
        names = new PieceNames(expected.Pieces, problems);
        taken = new MatchedValue?[expected.Pieces.Count][];
        firstSlot = new int[expected.Characteristics.Count];
        for (var i = 0; i < firstSlot.Length; i++)
        {
            firstSlot[i] = slots;
            slots += expected.Characteristics[i].Count;
            byBalloon.Add(expected.Characteristics[i].Balloon, i);
        }
    }

    /// <param name="file">As read; its own problems are carried over.</param>
    /// <param name="expected">Balloons are unique in it.</param>
    public static Matched Of(MeasurementFile file, Expectation expected) => new Matching(file, expected).Match();

    private Matched Match()
    {
        CheckClaims();
        foreach (var row in file.Rows)
            Place(row);
        NumberTheUnnumbered();

        var values = new List<MatchedValue>(file.Rows.Count);
        var missing = new List<MissingValue>();
        var untouched = new List<ExpectedPiece>();
        for (var piece = 0; piece < taken.Length; piece++)
        {
            if (taken[piece] is { } slotsOfPiece)
                Collect(expected.Pieces[piece], slotsOfPiece, values, missing);
            else
                untouched.Add(expected.Pieces[piece]);
        }

        if (values.Count == 0 && saidNotAsked.Count + saidNotOurs.Count > 0 && !problems.AnyRefusal)
            problems.Refuse(null, "", $"The file brings nothing that is asked for at stage “{expected.Stage}”. Upload it at its own stage.");
        IReadOnlyList<TableProblem> all = [.. file.Problems.Concat(problems.Sorted()).OrderBy(problem => problem.Row ?? 0)];
        return new Matched(values, missing, untouched, all);
    }

    private void Collect(ExpectedPiece piece, MatchedValue?[] slotsOfPiece, List<MatchedValue> values, List<MissingValue> missing)
    {
        var start = values.Count;
        for (var i = 0; i < expected.Characteristics.Count; i++)
        {
            var characteristic = expected.Characteristics[i];
            for (var instance = 1; instance <= characteristic.Count; instance++)
            {
                if (slotsOfPiece[firstSlot[i] + instance - 1] is { } value)
                    values.Add(value);
                else if (characteristic.Required)
                    missing.Add(new MissingValue(piece, characteristic, instance));
            }
        }

        CollectionsMarshal.AsSpan(values)[start..].Sort((one, other) => one.Source.Row.CompareTo(other.Source.Row));
    }

    private void CheckClaims()
    {
        foreach (var claim in file.Revisions)
        {
            if (!claim.Text.Equals(expected.Revision, StringComparison.OrdinalIgnoreCase))
                problems.Refuse(claim.Row, "revision", $"The file is for revision {TableProblems.Short(claim.Text)}; the work order is for revision {expected.Revision}. Measure against {expected.Revision}, or ask which revision is to be built.");
        }

        foreach (var claim in file.Parts)
        {
            if (!claim.Text.Equals(expected.Part, StringComparison.OrdinalIgnoreCase))
                problems.Refuse(claim.Row, "part", $"The file is for part {TableProblems.Short(claim.Text)}, not for {expected.Part}. Upload it at its own part.");
        }

        foreach (var claim in file.Stages)
        {
            if (!claim.Text.Equals(expected.Stage, StringComparison.OrdinalIgnoreCase))
                problems.Refuse(claim.Row, "stage", $"The file is for stage “{TableProblems.Short(claim.Text)}”, not for “{expected.Stage}”. Upload it at its own stage.");
        }
    }

    private void Place(MeasurementRow row)
    {
        if (names.Find(row) is not { } piece)
            return;
        if (!byBalloon.TryGetValue(row.Balloon, out var index))
        {
            if (!expected.Partial)
                problems.Refuse(row.Row, "balloon", $"Balloon {row.Balloon} is not on revision {expected.Revision} of {expected.Part}. Correct the number or delete the row.");
            else if (saidNotOurs.Add(row.Balloon))
                problems.Warn(row.Row, "balloon", $"Balloon {row.Balloon} is not asked of you at stage “{expected.Stage}”; its values are passed over.");
            return;
        }

        var characteristic = expected.Characteristics[index];
        if (!characteristic.Required)
        {
            if (saidNotAsked.Add(index))
                problems.Warn(row.Row, "balloon", $"Balloon {row.Balloon} is not asked for at stage “{expected.Stage}”; its values are passed over.");
            return;
        }

        if (row.Instance > characteristic.Count)
        {
            problems.Refuse(row.Row, "balloon", characteristic.Count == 1
                ? $"Balloon {row.Balloon} has one value only; {row.BalloonText} asks for more. Write {row.Balloon}."
                : $"Balloon {row.Balloon} has {characteristic.Count} values; {row.BalloonText} is beyond them.");
            return;
        }

        if (row.Instance is null && characteristic.Count > 1)
            unnumbered.Add((piece, index, row));
        else
            Take(piece, index, row.Instance ?? 1, row);
    }

    /// <summary>A balloon repeated without instances is numbered in the order of the rows, when nothing contradicts that.</summary>
    private void NumberTheUnnumbered()
    {
        foreach (var group in unnumbered.GroupBy(entry => (entry.Piece, entry.Characteristic)))
        {
            var characteristic = expected.Characteristics[group.Key.Characteristic];
            var some = taken[group.Key.Piece] is { } slotsOfPiece
                && slotsOfPiece.AsSpan(firstSlot[group.Key.Characteristic], characteristic.Count).ContainsAnyExcept((MatchedValue?)null);
            var (balloon, count) = (characteristic.Balloon, characteristic.Count);
            var instance = 0;
            foreach (var (piece, index, row) in group)
            {
                instance++;
                if (some)
                    problems.Refuse(row.Row, "balloon", $"Balloon {balloon} has {count} values, some rows number them and this one does not. Write {balloon}.1 to {balloon}.{count}.");
                else if (instance > count)
                    problems.Refuse(row.Row, "balloon", $"Balloon {balloon} has {count} values; this row is one more.");
                else
                    Take(piece, index, instance, row);
                if (instance == 1 && !some)
                    problems.Warn(row.Row, "balloon", $"Balloon {balloon} has {count} values and the rows do not number them: they were numbered in the order of the file. Write {balloon}.1 to {balloon}.{count} to be sure.");
            }
        }
    }

    private void Take(int piece, int index, int instance, MeasurementRow row)
    {
        var characteristic = expected.Characteristics[index];
        var slotsOfPiece = taken[piece] ??= new MatchedValue?[slots];
        ref var slot = ref slotsOfPiece[firstSlot[index] + instance - 1];
        if (slot is { } earlier)
        {
            problems.Refuse(row.Row, "balloon", $"{row.BalloonText} was given in row {earlier.Source.Row} already{TenthHint(slotsOfPiece, index, instance)}. Keep one of them.");
            return;
        }

        if (Evaluate(characteristic, row, out var value, out var unit, out var uncertainty))
            slot = new MatchedValue(expected.Pieces[piece], characteristic, instance, value, unit, uncertainty, row);
    }

    // A spreadsheet turns 12.10 into 12.1, so the tenth instance looks like the first.
    private string TenthHint(MatchedValue?[] slotsOfPiece, int index, int instance)
    {
        var tenth = instance * 10;
        var (balloon, count) = (expected.Characteristics[index].Balloon, expected.Characteristics[index].Count);
        return instance < 10 && tenth <= count && slotsOfPiece[firstSlot[index] + tenth - 1] is null
            ? $"; if it is {balloon}.{tenth}, the spreadsheet dropped the zero: write the balloons as text, or the instance in a column of its own"
            : "";
    }

    private bool Evaluate(ExpectedCharacteristic characteristic, MeasurementRow row, out decimal? value, out Unit unit, out decimal? uncertainty)
    {
        unit = row.Unit ?? OfOneKind(file.Unit, characteristic.Unit) ?? characteristic.Unit;
        value = null;
        uncertainty = null;
        switch (characteristic.Form)
        {
            case AnswerForm.YesOrNo or AnswerForm.GoNoGo:
                if (row.Go is not { } go)
                {
                    return Refuse(row, "value", $"“{TableProblems.Short(row.Typed)}”: balloon {row.Balloon} ({characteristic.Requirement}) is answered with "
                        + (characteristic.Form == AnswerForm.GoNoGo ? "go or no go." : "yes or no; other words go into the column note."));
                }

                value = go ? 1 : 0;
                return true;
            default:
                return EvaluateNumber(characteristic, row, ref unit, out value, out uncertainty);
        }
    }

    // What is said of the whole file cannot be meant for a characteristic of another kind.
    private static Unit? OfOneKind(Unit? unit, Unit other) => unit is { } given && Units.AreOfOneKind(given, other) ? given : null;

    private bool EvaluateNumber(ExpectedCharacteristic characteristic, MeasurementRow row, ref Unit unit, out decimal? value, out decimal? uncertainty)
    {
        value = null;
        uncertainty = null;
        var read = new ValueText(row.Number, row.Unit, row.IsArcSeconds, row.Go);
        string? why = null;
        // Minutes and seconds without their degrees are an angle only once it is known that one is asked for.
        if (row.Number is null)
            read = ValueText.Read(row.Typed, unit, out why);
        if (read.Number is not { } number)
        {
            return Refuse(row, "value", row.Go is null && why is not null
                ? $"{why} Balloon {row.Balloon} ({characteristic.Requirement}) needs a number."
                : $"“{TableProblems.Short(row.Typed)}”: balloon {row.Balloon} ({characteristic.Requirement}) needs a number.");
        }

        if (read.IsArcSeconds)
            unit = Unit.DegreeMinuteSecond;
        else if (row.Unit is null && OfOneKind(file.Unit, characteristic.Unit) is null && characteristic.Unit != Unit.None && !saidNoUnit)
        {
            saidNoUnit = true;
            problems.Warn(row.Row, "unit", "The file gives no unit here; values without one were read in the unit of the drawing.");
        }

        if (!Units.AreOfOneKind(unit, characteristic.Unit))
            return Refuse(row, "unit", $"Balloon {row.Balloon} ({characteristic.Requirement}) is in {Named(characteristic.Unit)}; a value in {Named(unit)} cannot be compared with it.");
        try
        {
            value = read.IsArcSeconds ? number : Units.ToBase(number, unit);
            uncertainty = Uncertainty(characteristic, row, unit);
        }
        catch (InputError tooLarge)
        {
            return Refuse(row, "value", tooLarge.Message);
        }

        if (characteristic.NeverNegative && value < 0)
            return Refuse(row, "value", $"{row.Typed.Trim()}: balloon {row.Balloon} ({characteristic.Requirement}) is never below zero.");
        if (OtherUnit.Near(characteristic, value.Value) is { } meant)
            problems.Warn(row.Row, "value", $"{row.Typed.Trim()} {Units.Symbol(unit)} is far from {characteristic.Requirement}, and near it when read {meant}. Check the unit, the decimal mark and the sign.");
        return true;
    }

    private decimal? Uncertainty(ExpectedCharacteristic characteristic, MeasurementRow row, Unit unit)
    {
        if (row.Uncertainty is not { } number)
            return null;
        var own = row.UncertaintyUnit ?? OfOneKind(file.UncertaintyUnit, characteristic.Unit) ?? unit;
        if (!Units.AreOfOneKind(own, characteristic.Unit))
            throw new InputError("uncertainty", $"The uncertainty is in {Named(own)} and the value in {Named(unit)}.");
        return row.UncertaintyUnit == Unit.DegreeMinuteSecond ? number : Units.ToBase(number, own);
    }

    private bool Refuse(MeasurementRow row, string field, string message)
    {
        problems.Refuse(row.Row, field, message);
        return false;
    }

    private static string Named(Unit unit) => unit == Unit.None ? "plain numbers" : Units.Symbol(unit);
}
