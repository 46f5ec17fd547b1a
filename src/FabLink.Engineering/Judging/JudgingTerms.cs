namespace FabLink.Engineering.Judging;

/// <summary>What a rule needs to know beside the limits, the value and its uncertainty.</summary>
public sealed record JudgingTerms
{
    public static JudgingTerms Default { get; } = new();

    public GuardBand Guard { get; init; } = GuardBand.ExpandedUncertainty;

    /// <summary>The k in U = k·u.</summary>
    public decimal CoverageFactor { get; init; } = 2;

    /// <summary>The probability a verdict must reach under <see cref="JudgingRule.Probability"/>; above ½ and below 1.</summary>
    public double MinimumProbability { get; init; } = 0.95;

    /// <summary>ASTM E29 rounding method: the step the value is rounded to before it is judged, in base units; null for the absolute method.</summary>
    public decimal? RoundTo { get; init; }

    /// <summary>The guard in words, with its edition.</summary>
    public string GuardSource => Guard == GuardBand.ExpandedUncertainty
        ? "ISO 14253-1:2013: guard = U"
        : "ISO 14253-1:2017: guard = 1.645·u (95 % one-sided)";

    internal decimal GuardOf(decimal expandedUncertainty) => Guard == GuardBand.ExpandedUncertainty
        ? expandedUncertainty
        : 1.645m * expandedUncertainty / CoverageFactor;

    /// <exception cref="InputError">A term is out of its range.</exception>
    internal JudgingTerms Checked()
    {
        if (CoverageFactor <= 0)
            throw new InputError("coverageFactor", $"The coverage factor k must be greater than zero, not {CoverageFactor}.");
        if (!(MinimumProbability is > 0.5 and < 1))
            throw new InputError("minimumProbability", $"The minimum probability must lie above 0.5 and below 1, not {MinimumProbability}.");
        if (RoundTo <= 0)
            throw new InputError("roundTo", $"The rounding step must be greater than zero, not {RoundTo}.");
        return this;
    }
}
