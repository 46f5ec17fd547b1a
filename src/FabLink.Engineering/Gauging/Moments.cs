namespace FabLink.Engineering.Gauging;

/// <summary>
/// Mean and standard deviation of a sample. In double: a compensated sum, then the corrected two-pass algorithm about the mean, so that large
/// constant offsets cost no digits beyond those the data lost when they were read. In decimal: the data are exact to begin with.
/// </summary>
public static class Moments
{
    /// <param name="values">At least two finite numbers.</param>
    /// <returns>Mean and standard deviation with n − 1.</returns>
    /// <exception cref="InputError">Fewer than two, or one that is not finite.</exception>
    public static (double Mean, double StandardDeviation) Of(ReadOnlySpan<double> values)
    {
        RequireTwo(values.Length);
        for (var i = 0; i < values.Length; i++)
        {
            if (!double.IsFinite(values[i]))
                throw new InputError($"values/{i}", $"Value {i + 1} is not a finite number.");
        }

        var n = values.Length;
        var first = Sum(values, 0) / n;
        // A second pass about the first mean takes out what the first one rounded.
        var rest = Sum(values, first) / n;
        var mean = first + rest;
        var (squares, lost) = (0.0, 0.0);
        foreach (var value in values)
        {
            var d = value - first - rest;
            Add(ref squares, ref lost, d * d);
        }

        return (mean, Math.Sqrt((squares + lost) / (n - 1)));
    }

    /// <param name="values">At least two, in decimal.</param>
    /// <returns>Mean and standard deviation with n − 1, to the digits of a decimal.</returns>
    /// <exception cref="InputError">Fewer than two, or so large that their squares overflow.</exception>
    public static (decimal Mean, decimal StandardDeviation) Of(ReadOnlySpan<decimal> values)
    {
        RequireTwo(values.Length);
        try
        {
            var mean = 0m;
            foreach (var value in values)
                mean += value;
            mean /= values.Length;
            var squares = 0m;
            foreach (var value in values)
                squares += (value - mean) * (value - mean);
            return (mean, DecimalMath.SquareRoot(squares / (values.Length - 1)));
        }
        catch (OverflowException)
        {
            throw new InputError("values", "These values are too large to be squared.");
        }
    }

    private static double Sum(ReadOnlySpan<double> values, double about)
    {
        var (sum, lost) = (0.0, 0.0);
        foreach (var value in values)
            Add(ref sum, ref lost, value - about);
        return sum + lost;
    }

    // Neumaier's compensated addition: what the sum cannot hold is kept beside it.
    private static void Add(ref double sum, ref double lost, double value)
    {
        var next = sum + value;
        lost += Math.Abs(sum) >= Math.Abs(value) ? sum - next + value : value - next + sum;
        sum = next;
    }

    private static void RequireTwo(int count)
    {
        if (count < 2)
            throw new InputError("values", $"A standard deviation needs at least two values, not {count}.");
    }
}
