namespace FabLink.Engineering.Geometry;

/// <summary>
/// Orthogonal least squares: the feature with the least sum of squared distances at right angles to it.
/// Lines and planes pass through the centroid along principal directions (K. Pearson, Philosophical Magazine 2, 1901);
/// circles, spheres and cylinders minimise true distances, not algebraic ones (W. Gander, G. H. Golub, R. Strebel, BIT 34, 1994).
/// All work runs about the centroid and in units of the set's own size. Time is linear in the points; nothing is
/// allocated per point.
/// </summary>
public static class LeastSquares
{
    /// <summary>Beyond this radius, in units of the spread of the points, an arc cannot be told from a straight line.</summary>
    private const double LargestRadius = 1e6;

    /// <exception cref="InputError">Fewer than two different points, or a coordinate that is not finite.</exception>
    public static LineFit2 Line(ReadOnlySpan<Vector2D> points)
    {
        PointChecks.Require(points, 2, "line");
        var spread = Spread2.Of(points);
        if (spread.Narrow > (1 - PointChecks.RankTolerance) * spread.Wide)
            throw PointChecks.Degenerate("line", "the points scatter alike in all directions");

        var (normal, centre) = (spread.NarrowDirection, spread.Centre);
        var range = new Range();
        foreach (var p in points)
            range.Add(normal.Dot(p - centre));
        return new LineFit2(centre, Sense(spread.WideDirection), range.Width, range.SumOfSquares);
    }

    /// <inheritdoc cref="Line(ReadOnlySpan{Vector2D})"/>
    public static LineFit3 Line(ReadOnlySpan<Vector3D> points)
    {
        PointChecks.Require(points, 2, "line");
        var spread = Spread3.Of(points);
        if (spread.B > (1 - PointChecks.RankTolerance) * spread.C)
            throw PointChecks.Degenerate("line", "no direction is longer than the others");

        var (u, v, centre) = (spread.DirectionA, spread.DirectionB, spread.Centre);
        double farthest = 0, sum = 0;
        foreach (ref readonly var p in points)
        {
            var q = p - centre;
            var (a, b) = (u.Dot(q), v.Dot(q));
            var squared = (a * a) + (b * b);
            sum += squared;
            farthest = Math.Max(farthest, squared);
        }
        return new LineFit3(centre, Sense(spread.DirectionC), 2 * Math.Sqrt(farthest), sum);
    }

    /// <exception cref="InputError">Fewer than three different points, all of them on one line, or not finite.</exception>
    public static PlaneFit Plane(ReadOnlySpan<Vector3D> points)
    {
        PointChecks.Require(points, 3, "plane");
        var spread = Spread3.Of(points);
        if (spread.B <= PointChecks.RankTolerance * spread.C)
            throw PointChecks.Degenerate("plane", "all points lie on one line");
        if (spread.A > (1 - PointChecks.RankTolerance) * spread.B)
            throw PointChecks.Degenerate("plane", "the points are as thick as they are wide");

        var (normal, centre) = (spread.DirectionA, spread.Centre);
        var range = new Range();
        foreach (ref readonly var p in points)
            range.Add(normal.Dot(p - centre));
        return new PlaneFit(centre, Sense(normal), range.Width, range.SumOfSquares);
    }

    /// <exception cref="InputError">Fewer than three different points, all of them on one line, or not finite.</exception>
    public static CircleFit Circle(ReadOnlySpan<Vector2D> points)
    {
        PointChecks.Require(points, 3, "circle");
        var spread = Spread2.Of(points);
        if (spread.Narrow <= PointChecks.RankTolerance * spread.Wide)
            throw PointChecks.Degenerate("circle", "all points lie on one line");

        var size = spread.Wide;
        var start = CircleModel.Start(points, spread.Centre, size);
        var model = DampedNewton.Minimise(start, out _);
        if (!(model.Radius < LargestRadius))
            throw PointChecks.Degenerate("circle", "within their scatter the points lie on a line");

        var offset = size * model.Offset;
        var range = new Range();
        foreach (var p in points)
            range.Add((p - spread.Centre - offset).Length - (size * model.Radius));
        return new CircleFit(spread.Centre + offset, size * model.Radius, range.Width, range.SumOfSquares);
    }

    /// <exception cref="InputError">Fewer than four different points, all of them in one plane, or not finite.</exception>
    public static SphereFit Sphere(ReadOnlySpan<Vector3D> points)
    {
        PointChecks.Require(points, 4, "sphere");
        var spread = Spread3.Of(points);
        if (spread.A <= PointChecks.RankTolerance * spread.C)
            throw PointChecks.Degenerate("sphere", "all points lie in one plane");

        var size = spread.C;
        var model = DampedNewton.Minimise(SphereModel.Start(points, spread.Centre, size), out _);
        if (!(model.Radius < LargestRadius))
            throw PointChecks.Degenerate("sphere", "within their scatter the points lie in a plane");

        var offset = size * model.Offset;
        var range = new Range();
        foreach (ref readonly var p in points)
            range.Add((p - spread.Centre - offset).Length - (size * model.Radius));
        return new SphereFit(spread.Centre + offset, size * model.Radius, range.Width, range.SumOfSquares);
    }

    /// <summary>The best axis is searched over the whole half sphere of directions before it is polished, so no first guess is
    /// needed.</summary>
    /// <exception cref="InputError">Fewer than six different points (five fit up to six cylinders exactly), all of them in one
    /// plane, or not finite.</exception>
    public static CylinderFit Cylinder(ReadOnlySpan<Vector3D> points, CancellationToken cancellation = default)
    {
        PointChecks.Require(points, 6, "cylinder");
        var spread = Spread3.Of(points);
        if (spread.A <= PointChecks.RankTolerance * spread.C)
            throw PointChecks.Degenerate("cylinder", "all points lie in one plane");

        var size = spread.C;
        CylinderModel best = default;
        var least = double.PositiveInfinity;
        foreach (var guess in CylinderSearch.Candidates(points, spread.Centre, size))
        {
            cancellation.ThrowIfCancellationRequested();
            var model = DampedNewton.Minimise(
                CylinderModel.At(points, spread.Centre, size, guess), out var sum);
            if (sum < least && model.Radius < LargestRadius)
            {
                best = model;
                least = sum;
            }
        }
        if (double.IsInfinity(least))
            throw PointChecks.Degenerate("cylinder", "within their scatter the points lie in a plane");

        var (offset, direction, radius) = (size * best.Offset, best.Direction, size * best.Radius);
        var range = new Range();
        foreach (ref readonly var p in points)
            range.Add(direction.Cross(p - spread.Centre - offset).Length - radius);
        return new CylinderFit(spread.Centre + offset, Sense(direction), radius, range.Width, range.SumOfSquares);
    }

    /// <summary>A line has no sense of its own: the larger component is made positive so that the same set gives the same answer.</summary>
    internal static Vector2D Sense(Vector2D d) => (Math.Abs(d.X) >= Math.Abs(d.Y) ? d.X : d.Y) < 0 ? -d : d;

    /// <inheritdoc cref="Sense(Vector2D)"/>
    internal static Vector3D Sense(Vector3D d)
    {
        var (x, y, z) = (Math.Abs(d.X), Math.Abs(d.Y), Math.Abs(d.Z));
        return (z >= x && z >= y ? d.Z : y >= x ? d.Y : d.X) < 0 ? -d : d;
    }

    private struct Range()
    {
        private double lowest = double.PositiveInfinity;
        private double highest = double.NegativeInfinity;

        public double SumOfSquares { get; private set; }

        public readonly double Width => highest - lowest;

        public void Add(double d)
        {
            SumOfSquares += d * d;
            if (d < lowest)
                lowest = d;
            if (d > highest)
                highest = d;
        }
    }
}
