using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <param name="Nominal">Two coordinates (a cylindrical zone) or three (a spherical one), mm.</param>
/// <param name="Measured">As many.</param>
/// <param name="Tolerance">Diameter of the zone, mm.</param>
public sealed record PositionQuestion(IReadOnlyList<decimal> Nominal, IReadOnlyList<decimal> Measured, decimal Tolerance)
{
    public MaterialCondition Modifier { get; init; }

    /// <summary>Needed with a modifier.</summary>
    public FeatureOfSize? Size { get; init; }

    /// <summary>The mating envelope's size, mm; needed with a modifier.</summary>
    public decimal? MeasuredSize { get; init; }

    /// <summary>U of the position value, mm; null when unknown.</summary>
    public decimal? ExpandedUncertainty { get; init; }

    public JudgingRule Rule { get; init; } = JudgingRule.Simple;

    public JudgingTerms Terms { get; init; } = JudgingTerms.Default;
}

/// <param name="Position">Diameter of the smallest zone about the true position that holds the measured one, mm.</param>
/// <param name="Allowed">Tolerance and bonus, mm.</param>
/// <param name="Bonus">mm.</param>
/// <param name="Verdict">Compared in squares, exact at the limit.</param>
/// <param name="Guard">mm, null where the rule has none.</param>
/// <param name="ConformanceProbability">Null without U.</param>
/// <param name="VirtualCondition">mm; null without a modifier.</param>
/// <param name="Sources">Standards.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record PositionAnswer(
    decimal Position,
    decimal Allowed,
    decimal Bonus,
    Verdict Verdict,
    decimal? Guard,
    double? ConformanceProbability,
    decimal? VirtualCondition,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>ASME Y14.5-2018 clause 10, ISO 1101: position from measured numbers.</summary>
public static class Position
{
    private const decimal Farthest = 1_000_000_000;

    /// <exception cref="InputError">Coordinates that do not match, a negative tolerance, a modifier without a size.</exception>
    public static PositionAnswer Judge(PositionQuestion question)
    {
        var square = SquareOfDiameter(question.Nominal, question.Measured);
        if (question.Tolerance < 0)
            throw new InputError("tolerance", $"The tolerance must not be negative: {question.Tolerance}.");
        var bonus = BonusOf(question);
        var allowed = question.Tolerance + bonus;
        var position = DecimalMath.SquareRoot(square);
        var limits = new Limits(null, allowed);
        var judgement = Judging.Judge.WithProbability(limits, position, question.ExpandedUncertainty, question.Rule, question.Terms);
        var verdict = VerdictInSquares(square, allowed, judgement, question);
        return new PositionAnswer(
            decimal.Round(position, 12),
            allowed,
            bonus,
            verdict,
            judgement.Guard,
            judgement.ConformanceProbability,
            question.Size?.VirtualCondition(question.Modifier, question.Tolerance),
            ["ASME Y14.5-2018, clause 10; ISO 1101:2017; ISO 2692 for the modifiers", .. question.Rule == JudgingRule.Guarded ? [question.Terms.GuardSource] : Array.Empty<string>()],
            CautionsFor(question, judgement));
    }

    /// <summary>
    /// A projected zone: the axis was measured at two heights; the position counts at the face and at the end of the projection.
    /// Returns the larger diametral value, mm.
    /// </summary>
    /// <param name="nominal">x, y.</param>
    /// <param name="low">x, y, z of the axis at one height.</param>
    /// <param name="high">x, y, z at another; heights differ.</param>
    /// <param name="face">z of the face from which the zone projects.</param>
    /// <param name="projection">Its height; negative projects the other way.</param>
    public static decimal Projected(IReadOnlyList<decimal> nominal, IReadOnlyList<decimal> low, IReadOnlyList<decimal> high, decimal face, decimal projection)
    {
        if (nominal.Count != 2)
            throw new InputError("nominal", "A projected zone has a nominal of two coordinates.");
        if (low.Count != 3 || high.Count != 3 || low[2] == high[2])
            throw new InputError("measured", "The axis needs two points of three coordinates at different heights.");
        return Math.Max(At(face), At(face + projection));

        decimal At(decimal z)
        {
            var share = (z - low[2]) / (high[2] - low[2]);
            decimal[] point = [low[0] + share * (high[0] - low[0]), low[1] + share * (high[1] - low[1])];
            return DecimalMath.SquareRoot(SquareOfDiameter(nominal, point));
        }
    }

    private static decimal SquareOfDiameter(IReadOnlyList<decimal> nominal, IReadOnlyList<decimal> measured)
    {
        if (nominal.Count is not (2 or 3))
            throw new InputError("nominal", $"A position has two or three coordinates, not {nominal.Count}.");
        if (measured.Count != nominal.Count)
            throw new InputError("measured", $"The nominal has {nominal.Count} coordinates, the measured point {measured.Count}.");
        var sum = 0m;
        for (var i = 0; i < nominal.Count; i++)
        {
            if (Math.Abs(nominal[i]) > Farthest || Math.Abs(measured[i]) > Farthest)
                throw new InputError($"measured/{i}", $"Coordinate {i + 1} is larger than {Farthest} mm.");
            var d = measured[i] - nominal[i];
            sum += d * d;
        }

        return 4 * sum;
    }

    // The square root may round across the limit; the squares do not.
    private static Verdict VerdictInSquares(decimal square, decimal allowed, ValueJudgement judgement, PositionQuestion question)
    {
        if (question.Rule == JudgingRule.Probability || judgement.MissingUncertainty || question.Terms.RoundTo is not null)
            return judgement.Verdict;
        var guard = judgement.Guard ?? 0;
        var inner = allowed - guard;
        if (inner >= 0 && square <= inner * inner)
            return Verdict.Conforms;
        var outer = allowed + guard;
        return square > outer * outer ? Verdict.DoesNotConform : Verdict.NotProven;
    }

    private static decimal BonusOf(PositionQuestion question)
    {
        if (question.Modifier == MaterialCondition.None)
            return 0;
        if (question.Size is null)
            throw new InputError("size", "A modifier needs the feature's limits of size.");
        return question.MeasuredSize is { } measured
            ? question.Size.Bonus(question.Modifier, measured)
            : throw new InputError("size/measured", "A modifier needs the feature's measured size.");
    }

    private static List<string> CautionsFor(PositionQuestion question, ValueJudgement judgement)
    {
        var cautions = new List<string>();
        if (question.Modifier != MaterialCondition.None)
            cautions.Add("The bonus uses the mating envelope's size; a local size overstates it when the feature leans.");
        if (question.Size is { } size && question.MeasuredSize is { } measured && !size.Holds(measured))
            cautions.Add($"The size itself, {measured} mm, is outside {size.Lower} to {size.Upper} mm: it does not conform whatever its position.");
        if (question.Nominal.Count == 3)
            cautions.Add("Three coordinates: the zone is a sphere.");
        if (judgement.MissingUncertainty)
            cautions.Add("The rule needs the expanded uncertainty of the position, which is not given: not proven.");
        if (judgement.ConformanceProbability is not null)
            cautions.Add("The probability takes the position value as normally distributed; near zero it is not.");
        return cautions;
    }
}
