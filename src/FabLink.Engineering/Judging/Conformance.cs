using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>JCGM 106:2012, clause 7: the probability that a measured property conforms, for a normal uncertainty.</summary>
public static class Conformance
{
    /// <param name="limits">One or two limits, in any unit.</param>
    /// <param name="value">The measured value, in that unit.</param>
    /// <param name="standardUncertainty">u, in that unit; zero gives 0 or 1.</param>
    public static double Probability(in Limits limits, decimal value, decimal standardUncertainty)
    {
        if (standardUncertainty < 0)
            throw new InputError("standardUncertainty", $"The standard uncertainty must not be negative: {standardUncertainty}.");
        if (standardUncertainty == 0)
            return limits.Contains(value) ? 1 : 0;
        var below = limits.Upper is { } upper ? Standardised(upper - value, standardUncertainty) : double.PositiveInfinity;
        var above = limits.Lower is { } lower ? Standardised(lower - value, standardUncertainty) : double.NegativeInfinity;
        // The difference is taken in the tail that both share, where it does not cancel.
        return above > 0 ? Normal.UpperTail(above) - Normal.UpperTail(below) : Normal.Cumulative(below) - Normal.Cumulative(above);
    }

    private static double Standardised(decimal distance, decimal standardUncertainty) => (double)distance / (double)standardUncertainty;
}
