namespace FabLink.Engineering.Chains;

/// <summary>
/// A planar loop that closes on itself while two of its values are unknown: both are solved by Newton's method from the values given for them, and
/// their sensitivities follow from the derivative of the closing (implicit function theorem): ∂u/∂v = −J⁻¹ ∂(x, y)/∂v, J the derivative of the end
/// of the loop by the unknowns.
/// </summary>
internal sealed class ClosedLoop
{
    private const int MostSteps = 60;

    private readonly PlanarLoop x;
    private readonly PlanarLoop y;
    private readonly int first;
    private readonly int second;
    private readonly double scale;

    public ClosedLoop(bool[] relative, int first, int second, double scale)
    {
        (x, y) = (new PlanarLoop(relative, ClosingMeasure.X), new PlanarLoop(relative, ClosingMeasure.Y));
        (this.first, this.second, this.scale) = (first, second, scale);
    }

    /// <summary>Puts the two unknowns into <paramref name="values"/>, starting from what stands there.</summary>
    /// <returns>False when Newton's method finds no solution.</returns>
    public bool TrySolve(Span<double> values)
    {
        for (var step = 0; step < MostSteps; step++)
        {
            var (dx, dy) = (x.Close(values), y.Close(values));
            if (!double.IsFinite(dx + dy))
                return false;
            if (Math.Abs(dx) + Math.Abs(dy) <= 4e-15 * scale)
                return true;
            var (sx, sy) = (x.Sensitivities(values), y.Sensitivities(values));
            if (!Inverse(sx, sy, -dx, -dy, out var one, out var other))
                return false;
            // Far steps of a direction only turn the loop over.
            var shorten = Math.Min(1, 30 / Math.Max(Turn(first, one), Turn(second, other)));
            values[first] += shorten * one;
            values[second] += shorten * other;
            if (shorten == 1 && Math.Abs(one) <= 1e-15 * Math.Abs(values[first]) && Math.Abs(other) <= 1e-15 * Math.Abs(values[second]))
                return true;
        }

        return Math.Abs(x.Close(values)) + Math.Abs(y.Close(values)) <= 1e-9 * scale;
    }

    /// <summary>Derivatives of both unknowns by every value, at a solution; zero for the unknowns themselves.</summary>
    /// <exception cref="InputError">The unknowns move the end along one line there.</exception>
    public (double[] First, double[] Second) Sensitivities(ReadOnlySpan<double> values)
    {
        var (sx, sy) = (x.Sensitivities(values), y.Sensitivities(values));
        var (one, other) = (new double[values.Length], new double[values.Length]);
        for (var i = 0; i < values.Length; i++)
        {
            if (i == first || i == second)
                continue;
            if (!Inverse(sx, sy, -sx[i], -sy[i], out one[i], out other[i]))
                throw NotDetermined();
        }

        return (one, other);
    }

    public static InputError NotDetermined() =>
        new("unknowns", "The two unknowns do not determine the loop: where it closes both move its end along the same line.");

    private static double Turn(int index, double step) => index % 2 == 1 ? Math.Abs(step) : 0;

    private bool Inverse(double[] sx, double[] sy, double right, double above, out double one, out double other)
    {
        var determinant = (sx[first] * sy[second]) - (sx[second] * sy[first]);
        var size = (Math.Abs(sx[first]) + Math.Abs(sy[first])) * (Math.Abs(sx[second]) + Math.Abs(sy[second]));
        one = ((right * sy[second]) - (above * sx[second])) / determinant;
        other = ((sx[first] * above) - (sy[first] * right)) / determinant;
        return Math.Abs(determinant) > 1e-12 * size;
    }
}
