using System.Buffers;
using System.Globalization;
using System.Text;
using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tolerances;

/// <summary>The characters of a requirement: its one unit is found first, then figures and words are taken from left to right.</summary>
internal sealed class RequirementScanner
{
    private static readonly SearchValues<char> MinuteAndSecondSigns = SearchValues.Create("'′’\"″”");

    private readonly string text;
    private readonly Unit unitOfLegs;

    public RequirementScanner(string text, Unit unit)
    {
        this.text = text;
        unitOfLegs = Units.IsLength(unit) ? unit : Unit.Millimetre;
        var written = WrittenUnit(text, unit);
        Unit = written ?? unit;
        // Degrees carry their sign in every figure.
        UnitWritten = written is not null && !IsDegrees(Unit);
    }

    public int Position { get; private set; }

    public Unit Unit { get; }

    public bool UnitWritten { get; }

    public bool AtEnd => Position >= text.Length;

    public char Here => text[Position];

    public bool BlankBehindHere => Position + 1 < text.Length && char.IsWhiteSpace(text[Position + 1]);

    /// <summary>A deviation of zero needs no sign: <c>12 0/-0.1</c>.</summary>
    public bool IsZeroDeviation
    {
        get
        {
            if (AtEnd || Here != '0')
                return false;
            var end = EndOfNumber(Position);
            if (end < text.Length && AngleText.WeightOf(text[end]) > 0)
                end++;
            while (end < text.Length && char.IsWhiteSpace(text[end]))
                end++;
            return end < text.Length && (text[end] == '/' || NumberText.IsSign(text[end]));
        }
    }

    public RequirementError Error(string message) => ErrorAt(Position, message);

    public RequirementError ErrorAt(int position, string message) => new(position, message);

    /// <summary>A table's refusal, told at the character it is about.</summary>
    public T Guard<T>(int position, Func<T> make)
    {
        try
        {
            return make();
        }
        catch (InputError refusal)
        {
            throw ErrorAt(position, refusal.Message);
        }
    }

    public bool SkipBlanks()
    {
        var start = Position;
        while (!AtEnd && char.IsWhiteSpace(Here))
            Position++;
        return Position > start;
    }

    public void Skip() => Position++;

    public bool TrySkip(string expected)
    {
        if (!text.AsSpan(Position).StartsWith(expected, StringComparison.OrdinalIgnoreCase))
            return false;
        Position += expected.Length;
        return true;
    }

    /// <summary>A whole word, case ignored: what follows it is no letter.</summary>
    public bool TryWord(string word)
    {
        var end = Position + word.Length;
        return (end >= text.Length || !char.IsAsciiLetter(text[end])) && TrySkip(word);
    }

    public string RestAfterColon()
    {
        SkipBlanks();
        TrySkip(":");
        var rest = text[Position..].Trim();
        Position = text.Length;
        return rest;
    }

    /// <summary><c>10×</c>, <c>10 x</c>, <c>10X</c>; 1 when there is none.</summary>
    public int Count()
    {
        var end = Position;
        while (end < text.Length && char.IsAsciiDigit(text[end]))
            end++;
        var sign = end;
        while (sign < text.Length && char.IsWhiteSpace(text[sign]))
            sign++;
        if (end == Position || sign >= text.Length || text[sign] is not ('×' or 'x' or 'X'))
            return 1;
        if (!int.TryParse(text.AsSpan(Position, end - Position), NumberStyles.None, CultureInfo.InvariantCulture, out var count) || count is < 1 or > 10_000)
            throw Error("a count is a whole number from 1 to 10000.");
        Position = sign + 1;
        SkipBlanks();
        return count;
    }

    public SizePrefix Prefix()
    {
        if (TrySkip("SØ") || TrySkip("S⌀"))
            return SizePrefix.SphericalDiameter;
        if (TrySkip("SR"))
            return SizePrefix.SphericalRadius;
        if (TrySkip("Ø") || TrySkip("⌀") || TrySkip("∅") || TrySkip("dia.") || TrySkip("dia"))
            return SizePrefix.Diameter;
        return TrySkip("R") ? SizePrefix.Radius : SizePrefix.None;
    }

    /// <summary>True for a maximum, false for a minimum, null when neither is written here.</summary>
    public bool? Bound()
    {
        if (TrySkip("≤") || TrySkip("<=") || TryWord("max.") || TryWord("max") || TryWord("maximum"))
            return true;
        return TrySkip("≥") || TrySkip(">=") || TryWord("min.") || TryWord("min") || TryWord("minimum") ? false : null;
    }

    /// <summary>A class of ISO 286, or null when no letter stands here.</summary>
    public ToleranceClass? ToleranceClass()
    {
        if (AtEnd || !char.IsAsciiLetter(Here))
            return null;
        var end = Position;
        while (end < text.Length && char.IsAsciiLetterOrDigit(text[end]))
            end++;
        if (!Tolerances.ToleranceClass.TryParse(text.AsSpan(Position, end - Position), out var found, out var refusal))
            throw Error(refusal!);
        Position = end;
        SkipUnit();
        return found;
    }

    /// <summary>A number with its unit or angle signs, in the unit of the whole requirement.</summary>
    public Figure Figure()
    {
        SkipBlanks();
        var start = Position;
        var end = EndOfNumber(start);
        if (Units.IsAngle(Unit) && end < text.Length && AngleText.WeightOf(text[end]) > 0)
            return AngleFigure(start);
        var value = Number(start, end);
        Position = end;
        SkipUnit();
        var written = Normal(text.AsSpan(start, end - start));
        return new Figure(Guard(start, () => Units.ToBase(value, Unit)), IsDegrees(Unit) ? written + "°" : written);
    }

    /// <summary>The rest of <c>(leg 120)</c>: a length, in mm unless it says otherwise.</summary>
    public Figure LegInBrackets()
    {
        SkipBlanks();
        var start = Position;
        var end = EndOfNumber(start);
        var value = Number(start, end);
        var close = text.IndexOf(')', end);
        if (close < 0)
            throw ErrorAt(text.Length, "the bracket is not closed.");
        var unit = unitOfLegs;
        if (text[end..close].Trim() is { Length: > 0 } behind && (!Units.TryParse(behind, out unit) || !Units.IsLength(unit)))
            throw ErrorAt(end, $"“{behind}” is not a unit of length.");
        Position = close + 1;
        // A drawing in inches means its legs in inches; printed beside an angle that must be said.
        var written = Normal(text.AsSpan(start, end - start)) + (unit == Unit.Millimetre ? "" : $" {Units.Symbol(unit)}");
        return new Figure(Guard(start, () => Units.ToBase(value, unit)), written);
    }

    /// <summary><c>M</c>, <c>Ⓜ</c>, <c>(M)</c>, <c>MMC</c> and the same with L.</summary>
    public MaterialCondition Modifier()
    {
        if (TrySkip("Ⓜ") || TrySkip("(M)") || TryWord("MMC") || TryWord("M"))
            return MaterialCondition.Maximum;
        return TrySkip("Ⓛ") || TrySkip("(L)") || TryWord("LMC") || TryWord("L") ? MaterialCondition.Least : MaterialCondition.None;
    }

    /// <summary><c>(hole 12)</c> or <c>(pin 12)</c>; null when neither stands here.</summary>
    public (int Balloon, bool IsInternal)? BalloonInBrackets()
    {
        var isInternal = TrySkip("(hole");
        if (!isInternal && !TrySkip("(pin"))
            return null;
        SkipBlanks();
        var start = Position;
        while (!AtEnd && char.IsAsciiDigit(Here))
            Position++;
        if (!int.TryParse(text.AsSpan(start, Position - start), NumberStyles.None, CultureInfo.InvariantCulture, out var balloon) || balloon is < 1 or > 9999)
            throw ErrorAt(start, "a balloon is a whole number from 1 to 9999.");
        SkipBlanks();
        return TrySkip(")") ? (balloon, isInternal) : throw Error("the bracket is not closed.");
    }

    private Figure AngleFigure(int start)
    {
        var end = EndOfAngle(start);
        while (NextPart(end) is { } behind)
            end = EndOfAngle(behind);
        if (!AngleText.TryParse(text.AsSpan(start, end - start), out var seconds, out var refusal))
            throw ErrorAt(start, refusal!);
        // 0.1 rad beside 45° would be taken for 0.1°, and 15" beside 0.1 rad for 15 of something else.
        if (!IsDegrees(Unit))
            throw ErrorAt(start, $"“{text[start..end]}” differs from the unit {Units.Symbol(Unit)} used elsewhere; use one unit.");
        Position = end;
        return new Figure(seconds, Normal(text[start..end].Where(c => !char.IsWhiteSpace(c)).ToArray()));
    }

    private int EndOfAngle(int start)
    {
        var end = start;
        while (end < text.Length && (char.IsAsciiDigit(text[end]) || NumberText.IsMark(text[end]) || AngleText.WeightOf(text[end]) > 0
            || (end == start && NumberText.IsSign(text[end]))))
            end++;
        return end;
    }

    /// <summary>Where minutes or seconds begin behind a blank: a number with a smaller sign than the one before. A bare number there is none.</summary>
    private int? NextPart(int end)
    {
        var next = end;
        while (next < text.Length && char.IsWhiteSpace(text[next]))
            next++;
        var sign = next;
        while (sign < text.Length && (char.IsAsciiDigit(text[sign]) || NumberText.IsMark(text[sign])))
            sign++;
        return next > end && sign > next && sign < text.Length && AngleText.WeightOf(text[sign]) is > 0 and var weight && weight < AngleText.WeightOf(text[end - 1]) ? next : null;
    }

    private decimal Number(int start, int end)
    {
        if (end == start || (end == start + 1 && NumberText.IsSign(text[start])))
            throw ErrorAt(start == text.Length ? start : end, AtEnd || end >= text.Length ? "a number is missing at the end." : $"a number is needed here, not “{text[end]}”.");
        return NumberText.TryParse(text.AsSpan(start, end - start), out var value, out var refusal) ? value : throw ErrorAt(start, refusal!);
    }

    private int EndOfNumber(int start)
    {
        var end = start;
        if (end < text.Length && NumberText.IsSign(text[end]))
            end++;
        while (end < text.Length && (char.IsAsciiDigit(text[end]) || (NumberText.IsMark(text[end]) && !text.AsSpan(end).StartsWith(".."))))
            end++;
        return end;
    }

    /// <summary>Passes over the unit of the whole requirement, where it stands here.</summary>
    public void SkipUnit()
    {
        var end = Position;
        while (end < text.Length && char.IsWhiteSpace(text[end]))
            end++;
        var start = end;
        while (end < text.Length && (char.IsLetter(text[end]) || text[end] is '"' or '″' or '°'))
            end++;
        if (end == start || (end < text.Length && char.IsAsciiDigit(text[end])) || !Units.TryParse(text[start..end], out var found))
            return;
        if (found != Unit && !(IsDegrees(found) && IsDegrees(Unit)))
            throw ErrorAt(start, $"“{text[start..end]}” differs from the unit {Units.Symbol(Unit)} used elsewhere; use one unit.");
        Position = end;
    }

    private static bool IsDegrees(Unit unit) => unit is Unit.Degree or Unit.DegreeMinuteSecond;

    private static string Normal(ReadOnlySpan<char> written)
    {
        var normal = new StringBuilder(written.Length);
        foreach (var c in written)
            normal.Append(c switch { '\u2212' => '-', '′' or '’' => '\'', '″' or '”' => '"', 'º' => '°', _ => c });
        return normal.ToString();
    }

    private static Unit? WrittenUnit(string text, Unit unit)
    {
        var leg = text.IndexOf("(leg", StringComparison.OrdinalIgnoreCase);
        var dimension = leg < 0 ? text : text[..leg];
        var minutes = dimension.AsSpan().ContainsAny(MinuteAndSecondSigns);
        if (dimension.Contains('°') || dimension.Contains('º'))
            return minutes ? Unit.DegreeMinuteSecond : Unit.Degree;
        if (minutes && Units.IsAngle(unit))
            return Unit.DegreeMinuteSecond;
        for (var i = 0; i < dimension.Length;)
        {
            var start = i;
            while (i < dimension.Length && char.IsLetter(dimension[i]))
                i++;
            if (i - start >= 2 && Units.TryParse(dimension[start..i], out var found))
                return found;
            if (i == start)
                i++;
        }

        return dimension.Contains('"') || dimension.Contains('″') ? Unit.Inch : null;
    }
}
