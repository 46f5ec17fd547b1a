using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tolerances;

/// <summary>The sign in front of a size.</summary>
public enum SizePrefix
{
    None,
    Diameter,
    Radius,
    SphericalDiameter,
    SphericalRadius,
}

/// <summary>
/// What a drawing asks of one characteristic: limits in base units (mm, arc-seconds or plain), exact, and printed back as a
/// drawing would write it. One sealed record per form; see the other files of this folder.
/// </summary>
public abstract record Requirement
{
    /// <summary>How many instances: 10 in <c>10× Ø13.5</c>.</summary>
    public int Count { get; init; } = 1;

    public SizePrefix Prefix { get; init; }

    /// <summary>The unit it was written in; values are shown in it.</summary>
    public Unit Unit { get; init; } = Unit.None;

    /// <summary>Was the unit itself written, as in <c>.750 ±.005 in</c>? Then it is printed again. Degrees carry their sign in every figure instead.</summary>
    public bool UnitWritten { get; init; }

    /// <summary>In base units; both open for attributes and notes.</summary>
    public abstract Limits Limits { get; }

    /// <summary>In base units; null when there is none.</summary>
    public abstract decimal? Nominal { get; }

    /// <summary>Where the limits come from when a standard gave them; empty when they were written out.</summary>
    public virtual IReadOnlyList<string> Sources => [];

    /// <summary>Is it judged by a number? Attributes are judged yes or no, notes not at all.</summary>
    public virtual bool IsMeasured => true;

    /// <summary>
    /// Reads what people write: <c>12 ±0.1</c>, <c>12 +0.2/-0.1</c>, <c>12.0-12.4</c>, <c>Ø12 H7</c>, <c>max 0.5</c>, <c>45° ±0°30'</c>,
    /// <c>.750 ±.005 in</c>, <c>10× Ø13.5</c>, <c>45° (leg 120)</c>, <c>go/no-go: thread gauge</c>, <c>note: deburr</c>, with point or comma decimals.
    /// </summary>
    /// <param name="text">The requirement; a unit in it wins over <paramref name="unit"/>.</param>
    /// <param name="unit">The unit of numbers that carry none.</param>
    /// <param name="general">The drawing's general tolerance, for sizes that have no tolerance of their own.</param>
    /// <exception cref="RequirementError">It cannot be understood; says which character.</exception>
    public static Requirement Parse(string text, Unit unit, GeneralTolerance? general) =>
        new RequirementParser(text, unit, general).Parse();

    /// <returns>False when it cannot be understood; <paramref name="error"/> then says which character.</returns>
    public static bool TryParse(string text, Unit unit, GeneralTolerance? general, out Requirement? requirement, out RequirementError? error)
    {
        try
        {
            requirement = Parse(text, unit, general);
            error = null;
            return true;
        }
        catch (RequirementError refusal)
        {
            requirement = null;
            error = refusal;
            return false;
        }
    }

    /// <summary>A value in base units as it is shown beside this requirement, rounded to 12 decimals where it does not end.</summary>
    public string Show(decimal baseValue)
    {
        if (Unit == Unit.DegreeMinuteSecond)
            return AngleText.Format(baseValue);
        if (Unit == Unit.Degree)
            return AngleText.FormatDegrees(baseValue);
        var figure = Figure.Of(decimal.Round(Units.FromBase(baseValue, Unit), 12) / 1.000000000000000000000000m, Unit);
        return Unit == Unit.None ? figure.Written : $"{figure} {Units.Symbol(Unit)}";
    }

    public sealed override string ToString() => (Count > 1 ? $"{Count}× " : "") + PrefixText + Body + UnitText + Behind;

    protected abstract string Body { get; }

    /// <summary>What stands behind the unit.</summary>
    protected virtual string Behind => "";

    private string UnitText => UnitWritten ? $" {Units.Symbol(Unit)}" : "";

    private string PrefixText => Prefix switch
    {
        SizePrefix.Diameter => "Ø",
        SizePrefix.Radius => "R",
        SizePrefix.SphericalDiameter => "SØ",
        SizePrefix.SphericalRadius => "SR",
        _ => "",
    };
}
