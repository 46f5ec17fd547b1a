namespace FabLink.Engineering.Gauging;

/// <summary>A straight calibration line y = Intercept + Slope·(x − Origin) by least squares (JCGM 100:2008, H.3).</summary>
/// <param name="Origin">Where the intercept is taken.</param>
/// <param name="Intercept">y1, with its standard uncertainty.</param>
/// <param name="InterceptUncertainty">u(y1).</param>
/// <param name="Slope">y2.</param>
/// <param name="SlopeUncertainty">u(y2).</param>
/// <param name="Correlation">r(y1, y2).</param>
/// <param name="Residual">s, the standard deviation about the line.</param>
/// <param name="Degrees">n − 2.</param>
public sealed record CalibrationLine(
    double Origin,
    double Intercept,
    double InterceptUncertainty,
    double Slope,
    double SlopeUncertainty,
    double Correlation,
    double Residual,
    int Degrees)
{
    /// <param name="x">At least three, not all alike.</param>
    /// <param name="y">As many.</param>
    /// <param name="origin">Where the intercept is wanted.</param>
    /// <exception cref="InputError">Unequal numbers, too few, or no spread in x.</exception>
    public static CalibrationLine Fit(ReadOnlySpan<double> x, ReadOnlySpan<double> y, double origin)
    {
        if (x.Length != y.Length)
            throw new InputError("y", $"{x.Length} x need as many y, not {y.Length}.");
        if (x.Length < 3)
            throw new InputError("x", $"A line with its uncertainty needs at least three points, not {x.Length}.");
        var n = x.Length;
        var (meanX, deviationX) = Moments.Of(x);
        var (meanY, _) = Moments.Of(y);
        var spread = deviationX * deviationX * (n - 1);
        if (spread == 0)
            throw new InputError("x", "All x are alike: no line goes through one x.");

        // About the mean of x the two parameters do not correlate and nothing cancels.
        var product = 0.0;
        for (var i = 0; i < n; i++)
            product += (x[i] - meanX) * (y[i] - meanY);
        var slope = product / spread;
        var squares = 0.0;
        for (var i = 0; i < n; i++)
        {
            var residual = y[i] - meanY - slope * (x[i] - meanX);
            squares += residual * residual;
        }

        var variance = squares / (n - 2);
        var shift = origin - meanX;
        var ofIntercept = variance * (1.0 / n + shift * shift / spread);
        var ofSlope = variance / spread;
        var covariance = shift * variance / spread;
        return new CalibrationLine(
            origin,
            meanY + slope * shift,
            Math.Sqrt(ofIntercept),
            slope,
            Math.Sqrt(ofSlope),
            covariance == 0 ? 0 : covariance / Math.Sqrt(ofIntercept * ofSlope),
            Math.Sqrt(variance),
            n - 2);
    }

    /// <summary>The line at x, with its standard uncertainty (JCGM 100:2008, H.3.3).</summary>
    public (double Value, double StandardUncertainty) At(double x)
    {
        var d = x - Origin;
        var variance = InterceptUncertainty * InterceptUncertainty
            + d * d * SlopeUncertainty * SlopeUncertainty
            + 2 * d * InterceptUncertainty * SlopeUncertainty * Correlation;
        return (Intercept + Slope * d, Math.Sqrt(Math.Max(0, variance)));
    }
}
