namespace FabLink.Engineering.Judging;

/// <summary>ASTM E29, rounding method: to the nearest multiple of a step, a tie to the even multiple, in decimal.</summary>
public static class Rounding
{
    /// <param name="value">In the unit of the step.</param>
    /// <param name="step">Above zero: 0.1, 100, 0.0254.</param>
    public static decimal ToStep(decimal value, decimal step)
    {
        if (step <= 0)
            throw new InputError("roundTo", $"The rounding step must be greater than zero, not {step}.");
        // The remainder is exact where a quotient (by 25.4, say) would not be.
        var rest = value % step;
        var below = value - rest;
        var twice = Math.Abs(rest) * 2;
        if (twice < step)
            return below;
        if (twice == step && below / step % 2 == 0)
            return below;
        return rest < 0 ? below - step : below + step;
    }
}
