using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

public enum GeometricKind
{
    Straightness,
    Flatness,
    Circularity,
    Perpendicularity,
    Parallelism,
    Angularity,
    Profile,
    CircularRunOut,
    TotalRunOut,
}

/// <param name="Value">The evaluated deviation: the width of the zone that the feature needs, mm.</param>
/// <param name="Allowed">Tolerance and bonus, mm.</param>
/// <param name="Judgement">Against nothing below and the allowed width above.</param>
/// <param name="Sources">Standard and clause.</param>
/// <param name="Cautions">What the way of measuring cannot see.</param>
public sealed record GeometricAnswer(
    decimal Value,
    decimal Allowed,
    ValueJudgement Judgement,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>
/// Form, orientation, profile and run-out from numbers measured at the bench (dial readings, angles, diameters). Evaluation from clouds of
/// points is geometry's; here the readings are already heights above a set-up or deviations from nominal, in mm.
/// </summary>
public static class GeometricTolerances
{
    /// <summary>
    /// From dial readings: highest less lowest. For straightness, flatness, parallelism, run-out and for perpendicularity traced along a square;
    /// for circular run-out the readings are of one section, for total run-out of all of them together.
    /// </summary>
    /// <param name="kind">Profile has a way of its own.</param>
    /// <param name="readings">At least two, mm.</param>
    /// <param name="tolerance">Width of the zone, mm, not negative.</param>
    /// <param name="bonus">From maximum or least material, mm; 0 without a modifier.</param>
    /// <param name="expandedUncertainty">U of the value, null when unknown.</param>
    /// <param name="rule">As for one value.</param>
    /// <param name="terms">As for one value.</param>
    /// <exception cref="InputError">Fewer than two readings, or a kind that is not read by a dial.</exception>
    public static GeometricAnswer FromReadings(
        GeometricKind kind,
        IReadOnlyList<decimal> readings,
        decimal tolerance,
        decimal bonus = 0,
        decimal? expandedUncertainty = null,
        JudgingRule rule = JudgingRule.Simple,
        JudgingTerms? terms = null)
    {
        if (kind == GeometricKind.Profile)
            throw new InputError("kind", "A profile is judged by its deviations from nominal on both sides.");
        if (bonus != 0 && kind is GeometricKind.Circularity or GeometricKind.CircularRunOut or GeometricKind.TotalRunOut)
            throw new InputError("bonus", $"{kind} takes no bonus.");
        Require(readings, 2);
        return Answer(kind, readings.Max() - readings.Min(), tolerance, bonus, expandedUncertainty, rule, terms);
    }

    /// <summary>Orientation from a measured angle: the zone that the length needs, L·tan|error|, worst case over the whole length.</summary>
    /// <param name="kind">Perpendicularity, parallelism or angularity.</param>
    /// <param name="angleError">Measured less nominal angle, below 45°.</param>
    /// <param name="length">Of the toleranced feature, mm, above zero.</param>
    /// <param name="tolerance">Width of the zone, mm.</param>
    /// <param name="bonus">From a modifier, mm.</param>
    /// <param name="expandedUncertainty">U of the angle; null when unknown.</param>
    /// <param name="rule">As for one value.</param>
    /// <param name="terms">As for one value.</param>
    public static GeometricAnswer FromAngle(
        GeometricKind kind,
        Angle angleError,
        decimal length,
        decimal tolerance,
        decimal bonus = 0,
        Angle? expandedUncertainty = null,
        JudgingRule rule = JudgingRule.Simple,
        JudgingTerms? terms = null)
    {
        if (kind is not (GeometricKind.Perpendicularity or GeometricKind.Parallelism or GeometricKind.Angularity))
            throw new InputError("kind", $"{kind} is no orientation.");
        if (length <= 0)
            throw new InputError("length", $"The length must be greater than zero, not {length}.");
        if (Math.Abs(angleError.Degrees) >= 45)
            throw new InputError("angle", $"An angle error of {angleError} is no deviation from orientation; 45° is the limit.");
        decimal? uncertainty = expandedUncertainty is { } u ? Tangent(u) * length : null;
        return Answer(kind, Tangent(angleError) * length, tolerance, bonus, uncertainty, rule, terms);
    }

    /// <summary>Circularity from diameters measured across: half of largest less smallest (two-point, blind to lobes).</summary>
    public static GeometricAnswer CircularityFromDiameters(IReadOnlyList<decimal> diameters, decimal tolerance)
    {
        Require(diameters, 2);
        var answer = Answer(GeometricKind.Circularity, (diameters.Max() - diameters.Min()) / 2, tolerance, 0, null, JudgingRule.Simple, null);
        return answer with { Cautions = [.. answer.Cautions, "Two-point diameters do not see an odd number of lobes: three equal lobes read as round."] };
    }

    /// <summary>
    /// Profile of a line or surface. Equally disposed: twice the largest deviation. Unequally disposed: outside the material at most
    /// <paramref name="outside"/>, inside at most the rest; the value is then the smallest zone of that disposition that holds all.
    /// </summary>
    /// <param name="deviations">Signed, outwards positive, at least one, mm.</param>
    /// <param name="tolerance">Width of the whole zone, mm.</param>
    /// <param name="outside">Its part outside the material, 0 to the whole; null for half.</param>
    /// <param name="expandedUncertainty">U of a deviation, null when unknown; counts twice in the value, as the deviation does.</param>
    /// <param name="rule">As for one value.</param>
    /// <param name="terms">As for one value.</param>
    public static GeometricAnswer Profile(
        IReadOnlyList<decimal> deviations,
        decimal tolerance,
        decimal? outside = null,
        decimal? expandedUncertainty = null,
        JudgingRule rule = JudgingRule.Simple,
        JudgingTerms? terms = null)
    {
        Require(deviations, 1);
        var beyond = outside ?? tolerance / 2;
        if (beyond < 0 || beyond > tolerance)
            throw new InputError("outside", $"The part outside must lie between 0 and {tolerance}, not {beyond}.");
        // Grow or shrink both boundaries alike until the worst point lies on one of them.
        var excess = Math.Max(deviations.Max() - beyond, -deviations.Min() - (tolerance - beyond));
        return Answer(GeometricKind.Profile, Math.Max(0, tolerance + 2 * excess), tolerance, 0, 2 * expandedUncertainty, rule, terms);
    }

    private static GeometricAnswer Answer(
        GeometricKind kind, decimal value, decimal tolerance, decimal bonus, decimal? uncertainty, JudgingRule rule, JudgingTerms? terms)
    {
        if (tolerance < 0)
            throw new InputError("tolerance", $"The tolerance must not be negative: {tolerance}.");
        if (bonus < 0)
            throw new InputError("bonus", $"A bonus must not be negative: {bonus}.");
        var allowed = tolerance + bonus;
        return new GeometricAnswer(
            value,
            allowed,
            Judging.Judge.WithProbability(new Limits(null, allowed), value, uncertainty, rule, terms),
            [$"ISO 1101:2017; ASME Y14.5-2018, {ClauseOf(kind)}"],
            CautionsFor(kind));
    }

    private static string ClauseOf(GeometricKind kind) => kind switch
    {
        GeometricKind.Straightness or GeometricKind.Flatness or GeometricKind.Circularity => "clause 8 (form)",
        GeometricKind.Perpendicularity or GeometricKind.Parallelism or GeometricKind.Angularity => "clause 9 (orientation)",
        GeometricKind.Profile => "clause 11 (profile)",
        _ => "clause 12 (run-out)",
    };

    private static List<string> CautionsFor(GeometricKind kind) => kind switch
    {
        GeometricKind.Straightness or GeometricKind.Flatness =>
            ["Highest less lowest above a set-up is never below the minimum zone; levelling the part better can only lower it.", "Only where it was touched."],
        GeometricKind.CircularRunOut => ["One section only: the largest section counts."],
        _ => ["Only where it was touched."],
    };

    private static decimal Tangent(Angle angle) => (decimal)Math.Tan(Math.Abs(angle.Radians));

    private static void Require(IReadOnlyList<decimal> readings, int least)
    {
        if (readings.Count < least)
            throw new InputError("readings", $"At least {least} reading(s) are needed, not {readings.Count}.");
    }
}
