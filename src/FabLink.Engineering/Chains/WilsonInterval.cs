using FabLink.Engineering.Judging;

namespace FabLink.Engineering.Chains;

/// <summary>Score interval for a proportion (E. B. Wilson, Journal of the American Statistical Association 22, 1927), recommended
/// by L. D. Brown, T. T. Cai, A. DasGupta, Statistical Science 16, 2001; unlike the simple interval it is honest at 0 and 1.</summary>
public static class WilsonInterval
{
    /// <param name="successes">0 to <paramref name="trials"/>.</param>
    /// <param name="trials">At least 1.</param>
    /// <param name="confidence">Above 0 and below 1, two sided.</param>
    public static Bounds Of(long successes, long trials, double confidence)
    {
        if (trials < 1)
            throw new InputError("trials", "A proportion needs at least one trial.");
        if (successes < 0 || successes > trials)
            throw new InputError("successes", $"Successes must be 0 to {trials}, not {successes}.");
        if (!(confidence is > 0 and < 1))
            throw new InputError("confidence", $"Confidence must lie above 0 and below 1, not {confidence}.");

        var z = Normal.Quantile((1 + confidence) / 2);
        double n = trials;
        var p = successes / n;
        var centre = p + (z * z / (2 * n));
        var half = z * Math.Sqrt((p * (1 - p) / n) + (z * z / (4 * n * n)));
        var scale = 1 + (z * z / n);
        return new Bounds(
            successes == 0 ? 0 : (centre - half) / scale,
            successes == trials ? 1 : (centre + half) / scale);
    }
}
