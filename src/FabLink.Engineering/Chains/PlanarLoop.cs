using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Chains;

/// <summary>What of the closing vector is asked for.</summary>
internal enum ClosingMeasure
{
    X,
    Y,
    Length,
    Angle,
}

/// <summary>Exact kinematics of a planar loop. Values come in pairs per link: length, then direction in degrees.</summary>
internal sealed class PlanarLoop(bool[] relative, ClosingMeasure closing)
{
    private const double DegreesPerRadian = 180 / Math.PI;

    public int Links => relative.Length;

    /// <summary>The closing measure; an angle is given within half a turn of <paramref name="near"/>.</summary>
    public double Close(ReadOnlySpan<double> values, double near = 0)
    {
        var (heading, x, y) = (0.0, 0.0, 0.0);
        for (var i = 0; i < relative.Length; i++)
        {
            heading = relative[i] ? heading + values[(2 * i) + 1] : values[(2 * i) + 1];
            var (sin, cos) = double.SinCosPi(heading / 180);
            x += values[2 * i] * cos;
            y += values[2 * i] * sin;
        }
        return Measure(x, y, near);
    }

    /// <summary>A block of samples: <paramref name="deviations"/> value by value, <paramref name="samples"/> each, about
    /// <paramref name="middles"/>; results are less <paramref name="expected"/>.</summary>
    public void Close(
        ReadOnlySpan<double> middles, double expected, ReadOnlySpan<double> deviations, int samples, Span<double> results)
    {
        for (var s = 0; s < samples; s++)
        {
            var (heading, x, y) = (0.0, 0.0, 0.0);
            for (var i = 0; i < relative.Length; i++)
            {
                var length = middles[2 * i] + deviations[(2 * i * samples) + s];
                var direction = middles[(2 * i) + 1] + deviations[(((2 * i) + 1) * samples) + s];
                heading = relative[i] ? heading + direction : direction;
                var (sin, cos) = double.SinCosPi(heading / 180);
                x += length * cos;
                y += length * sin;
            }
            results[s] = Measure(x, y, expected) - expected;
        }
    }

    /// <summary>Start of the first link, then the end of each.</summary>
    public Vector2D[] Joints(ReadOnlySpan<double> values)
    {
        var joints = new Vector2D[relative.Length + 1];
        var heading = 0.0;
        for (var i = 0; i < relative.Length; i++)
        {
            heading = relative[i] ? heading + values[(2 * i) + 1] : values[(2 * i) + 1];
            var (sin, cos) = double.SinCosPi(heading / 180);
            joints[i + 1] = joints[i] + new Vector2D(values[2 * i] * cos, values[2 * i] * sin);
        }
        return joints;
    }

    /// <summary>
    /// Derivative of the closing measure by each value. A longer link moves the end along its own direction; a turned link turns
    /// with it the stretch up to the next link whose direction is absolute, so the end moves at right angles to that stretch.
    /// </summary>
    /// <exception cref="InputError">Length and angle of a closing vector of no length have no derivative.</exception>
    public double[] Sensitivities(ReadOnlySpan<double> values)
    {
        var joints = Joints(values);
        var gap = joints[^1];
        var scale = 0.0;
        for (var i = 0; i < relative.Length; i++)
            scale += Math.Abs(values[2 * i]);
        if (closing is ClosingMeasure.Length or ClosingMeasure.Angle && gap.Length <= 1e-9 * scale)
        {
            throw new InputError(
                "closing", "The loop closes on itself: a closing vector of no length has no direction. Ask for x or y instead.");
        }
        var along = closing switch
        {
            ClosingMeasure.X => new Vector2D(1, 0),
            ClosingMeasure.Y => new Vector2D(0, 1),
            ClosingMeasure.Length => gap.Unit(),
            _ => gap.Perpendicular * (DegreesPerRadian / gap.LengthSquared),
        };

        var sensitivities = new double[values.Length];
        var (heading, turned) = (0.0, 0);
        for (var i = 0; i < relative.Length; i++)
        {
            heading = relative[i] ? heading + values[(2 * i) + 1] : values[(2 * i) + 1];
            var (sin, cos) = double.SinCosPi(heading / 180);
            sensitivities[2 * i] = along.Dot(new Vector2D(cos, sin));
            for (turned = i + 1; turned < relative.Length && relative[turned];)
                turned++;
            sensitivities[(2 * i) + 1] = along.Dot((joints[turned] - joints[i]).Perpendicular) / DegreesPerRadian;
        }
        return sensitivities;
    }

    private double Measure(double x, double y, double near)
    {
        switch (closing)
        {
            case ClosingMeasure.X:
                return x;
            case ClosingMeasure.Y:
                return y;
            case ClosingMeasure.Length:
                return Math.Sqrt((x * x) + (y * y));
            default:
                var angle = Math.Atan2(y, x) * DegreesPerRadian;
                return angle - (360 * Math.Round((angle - near) / 360));
        }
    }
}
