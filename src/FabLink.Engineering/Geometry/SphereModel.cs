namespace FabLink.Engineering.Geometry;

/// <summary>½Σ(|q−c|−r)² over points q = (p − centre)/size; parameters c and r.</summary>
internal readonly ref struct SphereModel(ReadOnlySpan<Vector3D> points, Vector3D centre, double size, Vector3D offset, double radius)
    : ILocalModel<SphereModel>
{
    private readonly ReadOnlySpan<Vector3D> points = points;

    public static int Parameters => 4;

    public Vector3D Offset { get; } = offset;

    public double Radius { get; } = radius;

    /// <summary>The algebraic sphere: with centred points S c = ½Σ q(|q|² − mean), one 3×3 system.</summary>
    public static SphereModel Start(ReadOnlySpan<Vector3D> points, Vector3D centre, double size)
    {
        double xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0, xw = 0, yw = 0, zw = 0;
        var inverse = 1 / size;
        foreach (ref readonly var p in points)
        {
            var q = (p - centre) * inverse;
            var w = q.LengthSquared;
            xx += q.X * q.X;
            xy += q.X * q.Y;
            xz += q.X * q.Z;
            yy += q.Y * q.Y;
            yz += q.Y * q.Z;
            zz += q.Z * q.Z;
            xw += q.X * w;
            yw += q.Y * w;
            zw += q.Z * w;
        }
        var (a, b, c) = (new Vector3D(xx, xy, xz), new Vector3D(xy, yy, yz), new Vector3D(xz, yz, zz));
        var right = new Vector3D(xw, yw, zw) * 0.5;
        var determinant = a.Dot(b.Cross(c));
        var offset = ((right.X * b.Cross(c)) + (right.Y * c.Cross(a)) + (right.Z * a.Cross(b))) * (1 / determinant);
        var mean = (xx + yy + zz) / points.Length;
        return new SphereModel(points, centre, size, offset, Math.Sqrt(offset.LengthSquared + mean));
    }

    public double Evaluate(scoped Span<double> gradient, scoped Span<double> hessian)
    {
        double f = 0, gr = 0, xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0;
        Vector3D g = default, sum = default;
        var inverse = 1 / size;
        foreach (ref readonly var p in points)
        {
            var v = ((p - centre) * inverse) - Offset;
            var d = v.Length;
            var u = d > 0 ? v * (1 / d) : default;
            var e = d - Radius;
            var bend = d > 0 ? e / d : 0;
            var rest = 1 - bend;
            f += e * e;
            g -= e * u;
            gr -= e;
            sum += u;
            xx += bend + (rest * u.X * u.X);
            xy += rest * u.X * u.Y;
            xz += rest * u.X * u.Z;
            yy += bend + (rest * u.Y * u.Y);
            yz += rest * u.Y * u.Z;
            zz += bend + (rest * u.Z * u.Z);
        }
        (gradient[0], gradient[1], gradient[2], gradient[3]) = (g.X, g.Y, g.Z, gr);
        ReadOnlySpan<double> h =
        [
            xx, xy, xz, sum.X,
            xy, yy, yz, sum.Y,
            xz, yz, zz, sum.Z,
            sum.X, sum.Y, sum.Z, points.Length,
        ];
        h.CopyTo(hessian);
        return f / 2;
    }

    public SphereModel Moved(scoped ReadOnlySpan<double> step) =>
        new(points, centre, size, Offset + new Vector3D(step[0], step[1], step[2]), Radius + step[3]);
}
