namespace FabLink.Engineering.Gauging;

/// <summary>Student's t and Fisher's F, by the regularised incomplete beta function.</summary>
public static class Distributions
{
    /// <summary>P(F ≥ f) with the given degrees of freedom.</summary>
    public static double FisherUpperTail(double f, double numerator, double denominator) =>
        f <= 0 ? 1 : RegularisedBeta(denominator / 2, numerator / 2, denominator / (denominator + numerator * f));

    /// <summary>P(|T| ≥ t), t not negative.</summary>
    public static double StudentTwoTails(double t, double degrees) =>
        RegularisedBeta(degrees / 2, 0.5, degrees / (degrees + t * t));

    /// <summary>The t that |T| stays below with the given probability: 2.92 for 0.99 and 16 degrees of freedom.</summary>
    /// <exception cref="InputError">A probability not above 0 and below 1, or degrees of freedom not above zero.</exception>
    public static double StudentCoverage(double probability, double degrees)
    {
        if (!(probability is > 0 and < 1))
            throw new InputError("probability", $"A probability lies above 0 and below 1, not {probability}.");
        if (!(degrees > 0))
            throw new InputError("degrees", $"Degrees of freedom are above zero, not {degrees}.");
        if (double.IsPositiveInfinity(degrees))
            return Judging.Normal.Quantile((1 + probability) / 2);
        var (low, high) = (0.0, 1.0);
        while (StudentTwoTails(high, degrees) > 1 - probability)
            high *= 2;
        for (var i = 0; i < 200 && high - low > 1e-15 * high; i++)
        {
            var middle = (low + high) / 2;
            if (StudentTwoTails(middle, degrees) > 1 - probability)
                low = middle;
            else
                high = middle;
        }

        return (low + high) / 2;
    }

    /// <summary>I_x(a, b), by its continued fraction (Abramowitz and Stegun 26.5.8, evaluated by the modified Lentz method).</summary>
    internal static double RegularisedBeta(double a, double b, double x)
    {
        if (x <= 0)
            return 0;
        if (x >= 1)
            return 1;
        // The fraction converges fast on this side of the mean only.
        if (x > (a + 1) / (a + b + 2))
            return 1 - RegularisedBeta(b, a, 1 - x);
        var front = Math.Exp(LogGamma(a + b) - LogGamma(a) - LogGamma(b) + a * Math.Log(x) + b * Math.Log(1 - x)) / a;
        const double tiny = 1e-300;
        var c = 1.0;
        var d = 1 / Away(1 - (a + b) * x / (a + 1), tiny);
        var fraction = d;
        for (var m = 1; m < 100_000; m++)
        {
            var even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
            d = 1 / Away(1 + even * d, tiny);
            c = Away(1 + even / c, tiny);
            fraction *= d * c;
            var odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
            d = 1 / Away(1 + odd * d, tiny);
            c = Away(1 + odd / c, tiny);
            var change = d * c;
            fraction *= change;
            if (Math.Abs(change - 1) < 1e-16)
                break;
        }

        return front * fraction;
    }

    private static double Away(double value, double tiny) => Math.Abs(value) < tiny ? tiny : value;

    // Stirling's series (Abramowitz and Stegun 6.1.41) above 15, reached by the recurrence.
    private static double LogGamma(double x)
    {
        var shift = 0.0;
        while (x < 15)
        {
            shift += Math.Log(x);
            x++;
        }

        var r = 1 / (x * x);
        var series = (1.0 / 12 - r * (1.0 / 360 - r * (1.0 / 1260 - r * (1.0 / 1680 - r * (1.0 / 1188 - r * 691 / 360360))))) / x;
        return (x - 0.5) * Math.Log(x) - x + 0.91893853320467274178 + series - shift;
    }
}
