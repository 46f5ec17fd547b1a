using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>The difference of two measured values, of one piece or of two, against its own limit.</summary>
public static class MatchedPairs
{
    /// <param name="limits">Of the difference, in base units.</param>
    /// <param name="difference">First less second.</param>
    /// <param name="firstUncertainty">U of the first, null when unknown.</param>
    /// <param name="secondUncertainty">U of the second, null when unknown.</param>
    /// <param name="rule">As for one value.</param>
    /// <param name="terms">As for one value.</param>
    public static ValueJudgement Judge(
        in Limits limits,
        decimal difference,
        decimal? firstUncertainty,
        decimal? secondUncertainty,
        JudgingRule rule,
        JudgingTerms? terms = null)
    {
        // JCGM 100:2008, 5.1.2: independent uncertainties of a difference add in squares.
        decimal? combined = firstUncertainty is { } u && secondUncertainty is { } v ? DecimalMath.SquareRoot(u * u + v * v) : null;
        return Judging.Judge.WithProbability(limits, difference, combined, rule, terms);
    }
}
