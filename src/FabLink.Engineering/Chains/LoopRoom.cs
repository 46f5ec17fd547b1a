namespace FabLink.Engineering.Chains;

/// <summary>How much one value of a loop may take, whatever the others do within their limits, solved on the exact loop: from the
/// place that the first order answer aims at, each end is found by bisection.</summary>
internal static class LoopRoom
{
    private const int Halvings = 60;

    public static LinkRoom Of(LoopExtremes extremes, LinearClosure linear, Variable[] variables, int index, RequiredLimits required)
    {
        var guess = linear.Room(index, required);
        if (guess.WorstCase is null)
            return guess;
        var middle = guess.WorstCase switch
        {
            { Lower: { } low, Upper: { } high } => (low + high) / 2,
            { Lower: { } low } => Math.Max(low, variables[index].Middle),
            { Upper: { } high } => Math.Min(high, variables[index].Middle),
            _ => variables[index].Middle,
        };

        // How far the loop, at its worst, goes beyond what is required; negative is room.
        double Excess(double at)
        {
            var bounds = extremes.Corners(index, at);
            return Math.Max(required.Low - bounds.Lower, bounds.Upper - required.High);
        }

        var excess = Excess(middle);
        if (excess > 0)
            return guess with { WorstCase = null, WorstCaseShortfall = excess };
        return guess with
        {
            WorstCase = new RequiredLimits(End(Excess, middle, guess.WorstCase.Lower), End(Excess, middle, guess.WorstCase.Upper)),
            WorstCaseShortfall = 0,
        };
    }

    /// <summary>The first order end is stretched until it fails; null when the side is open.</summary>
    private static double? End(Func<double, double> excess, double inside, double? guess)
    {
        if (guess is not { } end)
            return null;
        var step = end - inside;
        if (step == 0)
            return inside;
        var outside = inside + step;
        for (var k = 0; k < 6 && excess(outside) <= 0; k++)
        {
            step *= 1.5;
            outside = inside + step;
        }
        if (excess(outside) <= 0)
            return null;
        for (var k = 0; k < Halvings; k++)
        {
            var middle = (inside + outside) / 2;
            if (excess(middle) <= 0)
                inside = middle;
            else
                outside = middle;
        }
        return inside;
    }
}
