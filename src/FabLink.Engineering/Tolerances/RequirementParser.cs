using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tolerances;

/// <summary>
/// Reads one requirement from left to right: count, prefix, then one of the forms. Two rules keep the hyphen unambiguous:
/// <c>12.0-12.4</c> and <c>12 - 12.4</c> are two limits, <c>12 -0.1</c> (blank before, none behind) is a deviation.
/// </summary>
internal sealed class RequirementParser(string text, Unit unit, GeneralTolerance? general)
{
    private readonly RequirementScanner scan = new(text, unit);

    public Requirement Parse()
    {
        scan.SkipBlanks();
        if (scan.AtEnd)
            throw scan.Error("the requirement is empty.");
        if (Words() is { } words)
            return words;
        if (scan.Here is '(' or '[')
            throw scan.Error("a dimension in brackets is for reference or theoretically exact; it has no tolerance of its own to judge.");

        var start = scan.Position;
        var count = scan.Count();
        var prefix = scan.Prefix();
        var form = Form(ref prefix, start, count);
        scan.SkipBlanks();
        if (!scan.AtEnd)
            throw scan.Error($"“{text[scan.Position..]}” is not understood here.");
        return form with { Count = count, Prefix = prefix, Unit = scan.Unit, UnitWritten = scan.UnitWritten };
    }

    private Requirement? Words()
    {
        if (scan.TryWord("go/no-go") || scan.TryWord("go / no-go") || scan.TryWord("go/no go") || scan.TryWord("attribute"))
            return new GoNoGo(scan.RestAfterColon()) { Unit = Unit.None };
        if (scan.TryWord("note") || scan.TryWord("text"))
        {
            var said = scan.RestAfterColon();
            return said.Length == 0 ? throw scan.Error("the note is empty.") : new NoteOnly(said) { Unit = Unit.None };
        }

        return unit == Unit.None && !text.Any(char.IsAsciiDigit) ? new NoteOnly(text.Trim()) : null;
    }

    private Requirement Form(ref SizePrefix prefix, int start, int count)
    {
        scan.SkipBlanks();
        if (scan.TrySkip("⌖"))
            return Position(prefix);
        if (scan.Bound() is { } isUpper)
        {
            scan.TrySkip(":");
            scan.SkipBlanks();
            if (prefix == SizePrefix.None)
                prefix = scan.Prefix();
            var bound = scan.Figure();
            return isUpper ? new MaximumOnly(bound) : new MinimumOnly(bound);
        }

        var sizeAt = scan.Position;
        var size = scan.Figure();
        var blankBehind = scan.SkipBlanks();
        if (scan.TrySkip("±") || scan.TrySkip("+/-") || scan.TrySkip("+-") || scan.TrySkip("+/−"))
            return Equal(size);
        if (scan.TrySkip("–") || scan.TrySkip("…") || scan.TrySkip("...") || scan.TrySkip("..") || scan.TryWord("to"))
            return Between(size);
        if (!scan.AtEnd && scan.Here is '-' or '−' && (!blankBehind || scan.BlankBehindHere))
        {
            scan.Skip();
            return Between(size);
        }

        if (!scan.AtEnd && (NumberText.IsSign(scan.Here) || scan.IsZeroDeviation))
            return Deviations(size);
        if (scan.Bound() is { } upper)
            return upper ? new MaximumOnly(size) : new MinimumOnly(size);
        if (scan.ToleranceClass() is { } toleranceClass)
            return Fit(size, sizeAt, toleranceClass);
        if (scan.TrySkip("(leg"))
            return Angle(size);
        return scan.AtEnd
            ? General(size, sizeAt, prefix, start, count)
            : throw scan.Error($"“{text[scan.Position..]}” is not understood here; expected ±, + or - deviations, a second limit, max, min or a class like H7.");
    }

    private EqualDeviations Equal(Figure size)
    {
        scan.SkipBlanks();
        if (!scan.AtEnd && NumberText.IsSign(scan.Here))
            throw scan.Error("the number behind ± has no sign.");
        var at = scan.Position;
        var deviation = scan.Figure();
        if (deviation.Base > 0)
            return new EqualDeviations(size, deviation);
        throw scan.AtEnd || char.IsWhiteSpace(scan.Here)
            ? scan.ErrorAt(at, "a tolerance of ±0 cannot be met.")
            : scan.Error($"“{text[scan.Position..]}” does not belong in the tolerance.");
    }

    private TwoLimits Between(Figure lower)
    {
        scan.SkipBlanks();
        var at = scan.Position;
        var upper = scan.Figure();
        return upper.Base >= lower.Base
            ? new TwoLimits(lower, upper)
            : throw scan.ErrorAt(at, $"the upper limit {upper} is below the lower limit {lower}; write the lower one first.");
    }

    private Requirement Deviations(Figure size)
    {
        var at = scan.Position;
        var one = scan.Figure();
        var blank = scan.SkipBlanks();
        var slash = scan.TrySkip("/");
        if (slash)
            scan.SkipBlanks();
        if (slash || (blank && !scan.AtEnd && NumberText.IsSign(scan.Here)))
        {
            var otherAt = scan.Position;
            if (!scan.AtEnd && !NumberText.IsSign(scan.Here) && scan.Here != '0')
                throw scan.Error("the second deviation needs its sign, + or -.");
            var other = scan.Figure();
            if (!NumberText.IsSign(text[otherAt]) && other.Base != 0)
                throw scan.ErrorAt(otherAt, "the second deviation needs its sign, + or -.");
            return one.Base >= other.Base ? new UnequalDeviations(size, one, other) : new UnequalDeviations(size, other, one);
        }

        if (one.Base == 0)
            throw scan.ErrorAt(at, "a tolerance of 0 cannot be met.");
        if (Math.Abs(one.Base) >= Math.Abs(size.Base))
            throw scan.ErrorAt(at, $"a deviation of {one} is as large as the size {size}; for two limits write “{size} to …”.");
        return new OneSidedDeviation(size, one);
    }

    private PositionWithin Position(SizePrefix before)
    {
        scan.SkipBlanks();
        var at = scan.Position;
        var prefix = scan.Prefix();
        if (before != SizePrefix.None || prefix is not (SizePrefix.None or SizePrefix.Diameter))
            throw scan.ErrorAt(at, "a position zone is written ⌖ Ø0.75 or ⌖ 0.75.");
        var widthAt = scan.Position;
        var width = scan.Figure();
        if (!Units.IsLength(scan.Unit) || width.Base < 0)
            throw scan.ErrorAt(widthAt, "a position zone has a width, a length of zero or more.");
        scan.SkipBlanks();
        var modifierAt = scan.Position;
        var modifier = scan.Modifier();
        if (modifier != MaterialCondition.None)
            scan.SkipUnit();
        scan.SkipBlanks();
        if (scan.BalloonInBrackets() is not { } feature)
        {
            return modifier == MaterialCondition.None
                ? new PositionWithin(width, prefix == SizePrefix.Diameter, null)
                : throw scan.ErrorAt(modifierAt, "the modifier needs the balloon of the size it refers to: write ⌖ Ø0.75 M (hole 12) or (pin 12).");
        }

        return modifier == MaterialCondition.None
            ? throw scan.ErrorAt(modifierAt, "a size counts only under a modifier: M for maximum material, L for least material.")
            : new PositionWithin(width, prefix == SizePrefix.Diameter, new SizeReference(feature.Balloon, feature.IsInternal, modifier));
    }

    private FitSize Fit(Figure size, int sizeAt, ToleranceClass toleranceClass)
    {
        if (!scan.AtEnd && scan.Here == '/')
            throw scan.Error("a pair of classes describes two parts: write the class of this one.");
        if (!Units.IsLength(scan.Unit))
            throw scan.ErrorAt(sizeAt, "a class of ISO 286 needs a length.");
        return scan.Guard(sizeAt, () => new FitSize(size, toleranceClass));
    }

    private GeneralAngle Angle(Figure size)
    {
        var at = scan.Position;
        if (!Units.IsAngle(scan.Unit))
            throw scan.Error("a leg belongs to an angle; write the angle with its sign, like 45°.");
        var leg = scan.LegInBrackets();
        return general is null
            ? throw scan.ErrorAt(at, "the drawing gives no general tolerance for this angle.")
            : scan.Guard(at, () => new GeneralAngle(size, leg, general));
    }

    private GeneralSize General(Figure size, int sizeAt, SizePrefix prefix, int start, int count)
    {
        if (count > 1 && Units.IsAngle(scan.Unit))
            throw scan.ErrorAt(start, $"“{text.Trim()}” can be a chamfer or {count} angles: write the chamfer's length alone, or give the angles their tolerance.");
        if (general is null)
            throw scan.ErrorAt(text.Length, "a tolerance is missing: write one, or give the drawing's general tolerance.");
        if (Units.IsAngle(scan.Unit))
            throw scan.ErrorAt(text.Length, $"{general} needs the shorter leg of an angle: write {size} (leg 120).");
        if (scan.Unit == Unit.None)
            throw scan.ErrorAt(text.Length, "a tolerance is missing; general tolerances are for lengths and angles.");
        var kind = general.Standard == GeneralStandard.Iso2768 && prefix is SizePrefix.Radius or SizePrefix.SphericalRadius
            ? GeneralKind.Radius
            : GeneralKind.Linear;
        return scan.Guard(sizeAt, () => new GeneralSize(size, general, kind));
    }
}
