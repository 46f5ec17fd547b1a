namespace FabLink.Engineering.Geometry;

/// <summary>½Σ(|q−c|−r)² over points q = (p − centre)/size; parameters c and r.</summary>
internal readonly ref struct CircleModel(ReadOnlySpan<Vector2D> points, Vector2D centre, double size, Vector2D offset, double radius)
    : ILocalModel<CircleModel>
{
    private readonly ReadOnlySpan<Vector2D> points = points;

    public static int Parameters => 3;

    public Vector2D Offset { get; } = offset;

    public double Radius { get; } = radius;

    /// <summary>The algebraic circle of Taubin (IEEE PAMI 13, 1991), in the form of N. Chernov, Circular and Linear Regression,
    /// 2010, 5.9: unlike the simple algebraic circle it does not shrink on short arcs.</summary>
    public static CircleModel Start(ReadOnlySpan<Vector2D> points, Vector2D centre, double size)
    {
        double xx = 0, xy = 0, yy = 0, xz = 0, yz = 0, zz = 0;
        var inverse = 1 / size;
        foreach (var p in points)
        {
            var (x, y) = ((p.X - centre.X) * inverse, (p.Y - centre.Y) * inverse);
            var z = (x * x) + (y * y);
            xx += x * x;
            xy += x * y;
            yy += y * y;
            xz += x * z;
            yz += y * z;
            zz += z * z;
        }
        double n = points.Length;
        (xx, xy, yy, xz, yz, zz) = (xx / n, xy / n, yy / n, xz / n, yz / n, zz / n);

        var mean = xx + yy;
        var determinant = (xx * yy) - (xy * xy);
        var variance = zz - (mean * mean);
        var a3 = 4 * mean;
        var a2 = (-3 * mean * mean) - zz;
        var a1 = (variance * mean) + (4 * determinant * mean) - (xz * xz) - (yz * yz);
        var a0 = (xz * ((xz * yy) - (yz * xy))) + (yz * ((yz * xx) - (xz * xy))) - (variance * determinant);

        var root = SmallestRoot(a0, a1, a2, a3);
        var d = 2 * ((root * root) - (root * mean) + determinant);
        var c = new Vector2D(
            ((xz * (yy - root)) - (yz * xy)) / d,
            ((yz * (xx - root)) - (xz * xy)) / d);
        return new CircleModel(points, centre, size, c, Math.Sqrt(c.LengthSquared + mean));
    }

    public double Evaluate(scoped Span<double> gradient, scoped Span<double> hessian)
    {
        double f = 0, gx = 0, gy = 0, gr = 0, hxx = 0, hxy = 0, hyy = 0, hxr = 0, hyr = 0;
        var inverse = 1 / size;
        foreach (var p in points)
        {
            var x = ((p.X - centre.X) * inverse) - Offset.X;
            var y = ((p.Y - centre.Y) * inverse) - Offset.Y;
            var d = Math.Sqrt((x * x) + (y * y));
            if (d > 0)
            {
                x /= d;
                y /= d;
            }
            var e = d - Radius;
            var bend = d > 0 ? e / d : 0;
            f += e * e;
            gx -= e * x;
            gy -= e * y;
            gr -= e;
            hxx += (x * x) + (bend * y * y);
            hxy += (1 - bend) * x * y;
            hyy += (y * y) + (bend * x * x);
            hxr += x;
            hyr += y;
        }
        (gradient[0], gradient[1], gradient[2]) = (gx, gy, gr);
        (hessian[0], hessian[1], hessian[2]) = (hxx, hxy, hxr);
        (hessian[3], hessian[4], hessian[5]) = (hxy, hyy, hyr);
        (hessian[6], hessian[7], hessian[8]) = (hxr, hyr, points.Length);
        return f / 2;
    }

    public CircleModel Moved(scoped ReadOnlySpan<double> step) =>
        new(points, centre, size, Offset + new Vector2D(step[0], step[1]), Radius + step[2]);

    /// <summary>Newton from zero rises monotonically to the smallest positive root of Taubin's cubic.</summary>
    private static double SmallestRoot(double a0, double a1, double a2, double a3)
    {
        var (x, value) = (0.0, a0);
        for (var i = 0; i < 99; i++)
        {
            var slope = a1 + (x * ((2 * a2) + (3 * a3 * x)));
            var next = x - (value / slope);
            if (next == x || !double.IsFinite(next))
                break;
            var nextValue = a0 + (next * (a1 + (next * (a2 + (next * a3)))));
            if (Math.Abs(nextValue) >= Math.Abs(value))
                break;
            (x, value) = (next, nextValue);
        }
        return x;
    }
}
