namespace FabLink.Engineering.Geometry;

/// <summary>One local minimum of the annulus width, by repeated linear minimax problems that converge quadratically.</summary>
internal static class CircularityStep
{
    private const int MaximumSteps = 200;
    private const int MostTouching = 48;

    /// <summary>Farther from the true corners than any difference of unit vectors, and so low that no optimum keeps it.</summary>
    private const double Outside = 3;
    private const double Below = -1e3;

    internal readonly record struct ReachOf(double Outer, int OuterIndex, double Inner, int InnerIndex);

    internal sealed record Optimum(Vector2D Centre, double Outer, double Inner, PointPair[] Pairs, double[] Weights)
    {
        public double Width => Outer - Inner;
    }

    private readonly record struct Corner(Vector2D Slope, double Height, PointPair Pair);

    public static ReachOf Reach(ReadOnlySpan<Vector2D> points, Vector2D c)
    {
        var (low, high) = (double.PositiveInfinity, double.NegativeInfinity);
        var (lowest, highest) = (0, 0);
        for (var i = 0; i < points.Length; i++)
        {
            var d = (points[i] - c).LengthSquared;
            if (d < low)
                (low, lowest) = (d, i);
            if (d > high)
                (high, highest) = (d, i);
        }
        return new ReachOf(Math.Sqrt(high), highest, Math.Sqrt(low), lowest);
    }

    public static Optimum Descend(ReadOnlySpan<Vector2D> points, Vector2D centre)
    {
        var reach = Reach(points, centre);
        Span<Corner> basis = stackalloc Corner[3];
        Span<double> weights = stackalloc double[3];
        for (var i = 0; i < MaximumSteps; i++)
        {
            var step = Linear(points, centre, basis, weights);
            var (moved, better) = (false, reach);
            for (var share = 1.0; share > 1e-9 && !moved; share /= 2)
            {
                better = Reach(points, centre + (share * step));
                moved = better.Outer - better.Inner < reach.Outer - reach.Inner;
                if (moved)
                    centre += share * step;
            }
            if (!moved)
                break;
            reach = better;
        }
        Linear(points, centre, basis, weights);
        return new Optimum(
            centre, reach.Outer, reach.Inner, [basis[0].Pair, basis[1].Pair, basis[2].Pair], weights.ToArray());
    }

    /// <summary>See <see cref="ProvenDisc"/>. The smallest slack that gives a steep optimum is kept.</summary>
    public static ProvenDisc Disc(ReadOnlySpan<Vector2D> points, Optimum optimum)
    {
        ProvenDisc? best = null;
        foreach (var slack in (ReadOnlySpan<double>)[1e-13, 1e-12, 4e-12])
        {
            var (outer, inner) = (new List<int>(), new List<int>());
            for (var i = 0; i < points.Length; i++)
            {
                var d = (points[i] - optimum.Centre).Length;
                if (d >= optimum.Outer - slack && outer.Count < MostTouching)
                    outer.Add(i);
                if (d <= optimum.Inner + slack && inner.Count < MostTouching)
                    inner.Add(i);
            }
            var steepness = Steepness(points, optimum.Centre, outer, inner);
            var radius = 2 * steepness * optimum.Inner / (1 + (2 * steepness));
            if (best is null || steepness > 2 * best.Steepness)
                best = new ProvenDisc(optimum.Centre, radius, slack, steepness, outer, inner, optimum.Width - (2 * slack));
        }
        return best!;
    }

    /// <summary>min over unit v of max (uᵢ − uₒ)·v: how far the hull of those differences reaches around the origin, 0 if it
    /// does not hold the origin.</summary>
    internal static double Steepness(ReadOnlySpan<Vector2D> points, Vector2D c, IReadOnlyList<int> outer, IReadOnlyList<int> inner)
    {
        var differences = new List<Vector2D>(outer.Count * inner.Count);
        foreach (var o in outer)
        {
            foreach (var i in inner)
                differences.Add(Direction(points[i] - c) - Direction(points[o] - c));
        }
        var hull = Hull(differences);
        if (hull.Count < 3)
            return 0;
        var least = double.PositiveInfinity;
        for (var k = 0; k < hull.Count; k++)
        {
            var (a, b) = (hull[k], hull[(k + 1) % hull.Count]);
            least = Math.Min(least, a.Cross(b) / (b - a).Length);
        }
        return Math.Max(0, least);
    }

    private static Vector2D Direction(Vector2D v) => v.LengthSquared > 0 ? v.Unit() : default;

    /// <summary>
    /// The step δ with the least max(dᵢ − uᵢ·δ) − min(dⱼ − uⱼ·δ). Its dual: among all means of the corners (uⱼ − uᵢ, dᵢ − dⱼ)
    /// that have slope zero the highest. Three corners whose slopes surround zero are exchanged, as in the simplex method,
    /// until no corner lies above their plane; one exchange costs one pass over the points.
    /// </summary>
    private static Vector2D Linear(ReadOnlySpan<Vector2D> points, Vector2D centre, Span<Corner> basis, Span<double> weights)
    {
        // A place just beside zero, so that symmetric sets do not put it on the edge between two corners.
        var aim = new Vector2D(1.3e-14, 0.7e-14);
        for (var k = 0; k < 3; k++)
        {
            var (sin, cos) = Math.SinCos(0.3 + (2 * Math.PI * k / 3));
            basis[k] = new Corner(new Vector2D(Outside * cos, Outside * sin), Below, new PointPair(-1, -1));
        }
        Vector2D step = default;
        Span<double> entering = stackalloc double[3];
        for (var i = 0; i < MaximumSteps; i++)
        {
            Barycentric(basis, aim, weights);
            step = Plane(basis, out var level);
            var next = Highest(points, centre, step);
            var above = next.Height + next.Slope.Dot(step) - level;
            if (above <= 1e-15 || next.Pair == basis[0].Pair || next.Pair == basis[1].Pair || next.Pair == basis[2].Pair)
                break;

            Barycentric(basis, next.Slope, entering);
            var (leaving, ratio) = (-1, double.PositiveInfinity);
            for (var k = 0; k < 3; k++)
            {
                if (entering[k] > 1e-14 && weights[k] / entering[k] < ratio)
                    (leaving, ratio) = (k, weights[k] / entering[k]);
            }
            if (leaving < 0)
                break;
            basis[leaving] = next;
        }
        Barycentric(basis, default, weights);
        foreach (var corner in basis)
        {
            if (corner.Pair.Upper < 0)
                return default;
        }
        return step;
    }

    private static Corner Highest(ReadOnlySpan<Vector2D> points, Vector2D centre, Vector2D step)
    {
        var (low, high) = (double.PositiveInfinity, double.NegativeInfinity);
        var (lowest, highest) = (0, 0);
        for (var i = 0; i < points.Length; i++)
        {
            var v = points[i] - centre;
            var d = v.Length;
            var moved = d > 0 ? d - (v.Dot(step) / d) : 0;
            if (moved < low)
                (low, lowest) = (moved, i);
            if (moved > high)
                (high, highest) = (moved, i);
        }
        var (outer, inner) = (points[highest] - centre, points[lowest] - centre);
        return new Corner(
            Direction(inner) - Direction(outer), outer.Length - inner.Length, new PointPair(highest, lowest));
    }

    /// <summary>Step δ and level t with Height + Slope·δ = t at all three corners.</summary>
    private static Vector2D Plane(ReadOnlySpan<Corner> basis, out double level)
    {
        var (p, q) = (basis[1].Slope - basis[0].Slope, basis[2].Slope - basis[0].Slope);
        var (a, b) = (basis[0].Height - basis[1].Height, basis[0].Height - basis[2].Height);
        var step = new Vector2D((a * q.Y) - (b * p.Y), (b * p.X) - (a * q.X)) * (1 / p.Cross(q));
        level = basis[0].Height + basis[0].Slope.Dot(step);
        return step;
    }

    private static void Barycentric(ReadOnlySpan<Corner> basis, Vector2D at, Span<double> weights)
    {
        var (a, b, c) = (basis[0].Slope, basis[1].Slope, basis[2].Slope);
        var area = (b - a).Cross(c - a);
        weights[0] = (b - at).Cross(c - at) / area;
        weights[1] = (c - at).Cross(a - at) / area;
        weights[2] = 1 - weights[0] - weights[1];
    }

    private static List<Vector2D> Hull(List<Vector2D> points)
    {
        var sorted = points.Distinct().OrderBy(p => p.X).ThenBy(p => p.Y).ToList();
        if (sorted.Count < 3)
            return sorted;
        List<Vector2D> Chain(IEnumerable<Vector2D> order)
        {
            var chain = new List<Vector2D>();
            foreach (var p in order)
            {
                while (chain.Count > 1 && (chain[^1] - chain[^2]).Cross(p - chain[^1]) <= 0)
                    chain.RemoveAt(chain.Count - 1);
                chain.Add(p);
            }
            chain.RemoveAt(chain.Count - 1);
            return chain;
        }
        return [.. Chain(sorted), .. Chain(Enumerable.Reverse(sorted))];
    }
}
