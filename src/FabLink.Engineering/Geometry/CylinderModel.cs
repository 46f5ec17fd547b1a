namespace FabLink.Engineering.Geometry;

/// <summary>½Σ(d−r)² with d the distance of q = (p − centre)/size from an axis. The parameters are shifts a, b and tilts α, β of
/// the axis in a frame whose third direction is the axis itself, so they never become singular, and r.</summary>
internal readonly ref struct CylinderModel(
    ReadOnlySpan<Vector3D> points, Vector3D centre, double size, Vector3D offset, Vector3D direction, double radius)
    : ILocalModel<CylinderModel>
{
    private readonly ReadOnlySpan<Vector3D> points = points;

    public static int Parameters => 5;

    public Vector3D Offset { get; } = offset;

    public Vector3D Direction { get; } = direction;

    public double Radius { get; } = radius;

    public static CylinderModel At(ReadOnlySpan<Vector3D> points, Vector3D centre, double size, CylinderGuess guess) =>
        new(points, centre, size, guess.Offset, guess.Direction, guess.Radius);

    /// <remarks>With D = d², at a = b = α = β = 0: ∇D = −2(x, y, zx, zy) and
    /// ½D″ = [1, 0, z, 0; 0, 1, 0, z; z, 0, z²−x², −xy; 0, z, −xy, z²−y²]; then d″ = (½D″ − ∇d ∇dᵀ)/d.</remarks>
    public double Evaluate(scoped Span<double> gradient, scoped Span<double> hessian)
    {
        var u = Direction.AnyPerpendicular();
        var v = Direction.Cross(u);
        var inverse = 1 / size;
        Span<double> j = stackalloc double[5];
        gradient.Clear();
        hessian.Clear();
        var f = 0.0;
        foreach (ref readonly var p in points)
        {
            var q = ((p - centre) * inverse) - Offset;
            var (x, y, z) = (u.Dot(q), v.Dot(q), Direction.Dot(q));
            var d = Math.Sqrt((x * x) + (y * y));
            if (d == 0)
            {
                f += Radius * Radius;
                gradient[4] += Radius;
                hessian[24] += 1;
                continue;
            }
            var e = d - Radius;
            var bend = e / d;
            f += e * e;
            (j[0], j[1], j[2], j[3], j[4]) = (-x / d, -y / d, -z * x / d, -z * y / d, -1);
            for (var r = 0; r < 5; r++)
            {
                gradient[r] += e * j[r];
                var keep = r == 4 ? 1 : 1 - bend;
                for (var c = 0; c <= r; c++)
                    hessian[(r * 5) + c] += keep * j[r] * j[c];
            }
            hessian[0] += bend;
            hessian[6] += bend;
            hessian[10] += bend * z;
            hessian[16] += bend * z;
            hessian[12] += bend * ((z * z) - (x * x));
            hessian[17] -= bend * x * y;
            hessian[18] += bend * ((z * z) - (y * y));
        }
        for (var r = 0; r < 5; r++)
        {
            for (var c = 0; c < r; c++)
                hessian[(c * 5) + r] = hessian[(r * 5) + c];
        }
        return f / 2;
    }

    public CylinderModel Moved(scoped ReadOnlySpan<double> step)
    {
        var u = Direction.AnyPerpendicular();
        var v = Direction.Cross(u);
        var turned = (Direction + (step[2] * u) + (step[3] * v)).Unit();
        var shifted = Offset + (step[0] * u) + (step[1] * v);
        return new CylinderModel(
            points, centre, size, shifted - (turned.Dot(shifted) * turned), turned, Radius + step[4]);
    }
}
