namespace FabLink.Engineering.Judging;

/// <summary>The standard normal distribution to full double accuracy.</summary>
public static class Normal
{
    private const double OverRootTwoPi = 0.398942280401432677939946;

    /// <summary>Φ(z), relative accuracy about 1e-15, also far into the lower tail.</summary>
    public static double Cumulative(double z)
    {
        if (double.IsNaN(z))
            throw new InputError("z", "z must be a number.");
        return z < 0 ? Tail(-z) : 1 - Tail(z);
    }

    /// <summary>1 − Φ(z) without cancellation.</summary>
    public static double UpperTail(double z) => Cumulative(-z);

    /// <summary>φ(z). The square is split so that it keeps its digits far out: a coarse part, exact, and a small rest.</summary>
    public static double Density(double z)
    {
        var coarse = Math.Round(z * 16) / 16;
        return OverRootTwoPi * Math.Exp(-coarse * coarse / 2) * Math.Exp(-(z - coarse) * (z + coarse) / 2);
    }

    /// <summary>The z with Φ(z) = p, for 0 &lt; p &lt; 1.</summary>
    /// <exception cref="InputError">p is outside.</exception>
    public static double Quantile(double p)
    {
        if (!(p is > 0 and < 1))
            throw new InputError("p", $"A probability must lie above 0 and below 1, not {p}.");
        if (p > 0.5)
            return -Quantile(1 - p);
        // Newton on log Φ, which is concave: it converges from anywhere, far tails included.
        var z = p > 0.1 ? 0.0 : -Math.Sqrt(-2 * Math.Log(p));
        for (var i = 0; i < 60; i++)
        {
            var tail = Cumulative(z);
            var step = (Math.Log(tail) - Math.Log(p)) * tail / Density(z);
            z -= step;
            if (Math.Abs(step) <= 1e-16 * Math.Max(1, Math.Abs(z)))
                break;
        }

        return z;
    }

    // Q(x) for x ≥ 0. Near the middle the Taylor series of Φ about zero, Φ − ½ = φ(x)·Σ x^(2k+1)/(2k+1)!!, all terms positive;
    // beyond it the continued fraction of Laplace, Q = φ(x)/(x + 1/(x + 2/(x + 3/…))) (Abramowitz and Stegun 26.2.11 and 26.2.14).
    private static double Tail(double x)
    {
        if (x > 39)
            return 0;
        if (x < 1)
        {
            var term = x;
            var sum = x;
            for (var k = 3; term > sum * 1e-18; k += 2)
                sum += term *= x * x / k;
            return 0.5 - sum * Density(x);
        }

        var tail = 0.0;
        for (var n = (int)(500 / (x * x)) + 16; n >= 1; n--)
            tail = n / (x + tail);
        return Density(x) / (x + tail);
    }
}
