namespace FabLink.Engineering.Geometry;

/// <summary>Centroid and principal directions of points in the plane. <see cref="Narrow"/> ≤ <see cref="Wide"/> are root mean
/// square widths along <see cref="NarrowDirection"/> and <see cref="WideDirection"/>.</summary>
internal readonly record struct Spread2(
    Vector2D Centre, Vector2D NarrowDirection, Vector2D WideDirection, double Narrow, double Wide)
{
    private const int Block = 4096;

    /// <summary>One pass. The sums run about the first point, which lies within the set, so a far origin costs no digits;
    /// blocks keep the rounding of a million additions small.</summary>
    public static Spread2 Of(ReadOnlySpan<Vector2D> points)
    {
        var pilot = points[0];
        double x = 0, y = 0, xx = 0, xy = 0, yy = 0;
        for (var start = 0; start < points.Length; start += Block)
        {
            double bx = 0, by = 0, bxx = 0, bxy = 0, byy = 0;
            foreach (var p in points[start..Math.Min(start + Block, points.Length)])
            {
                var (dx, dy) = (p.X - pilot.X, p.Y - pilot.Y);
                bx += dx;
                by += dy;
                bxx += dx * dx;
                bxy += dx * dy;
                byy += dy * dy;
            }
            x += bx;
            y += by;
            xx += bxx;
            xy += bxy;
            yy += byy;
        }
        double n = points.Length;
        xx -= x * x / n;
        xy -= x * y / n;
        yy -= y * y / n;
        Span<double> m = [xx, xy, xy, yy];
        Span<double> values = stackalloc double[2];
        Span<double> v = stackalloc double[4];
        SymmetricEigen.Solve(2, m, values, v);
        return new Spread2(
            new Vector2D(pilot.X + (x / n), pilot.Y + (y / n)),
            new Vector2D(v[0], v[2]),
            new Vector2D(v[1], v[3]),
            Math.Sqrt(Math.Max(0, values[0]) / n),
            Math.Sqrt(Math.Max(0, values[1]) / n));
    }
}

/// <summary>Centroid and principal directions of points in space, from the narrowest (<see cref="A"/>) to the widest
/// (<see cref="C"/>); the widths are root mean squares.</summary>
internal readonly record struct Spread3(
    Vector3D Centre, Vector3D DirectionA, Vector3D DirectionB, Vector3D DirectionC, double A, double B, double C)
{
    private const int Block = 4096;

    /// <inheritdoc cref="Spread2.Of"/>
    public static Spread3 Of(ReadOnlySpan<Vector3D> points)
    {
        var pilot = points[0];
        double x = 0, y = 0, z = 0, xx = 0, xy = 0, xz = 0, yy = 0, yz = 0, zz = 0;
        for (var start = 0; start < points.Length; start += Block)
        {
            double bx = 0, by = 0, bz = 0, bxx = 0, bxy = 0, bxz = 0, byy = 0, byz = 0, bzz = 0;
            foreach (ref readonly var p in points[start..Math.Min(start + Block, points.Length)])
            {
                var (dx, dy, dz) = (p.X - pilot.X, p.Y - pilot.Y, p.Z - pilot.Z);
                bx += dx;
                by += dy;
                bz += dz;
                bxx += dx * dx;
                bxy += dx * dy;
                bxz += dx * dz;
                byy += dy * dy;
                byz += dy * dz;
                bzz += dz * dz;
            }
            x += bx;
            y += by;
            z += bz;
            xx += bxx;
            xy += bxy;
            xz += bxz;
            yy += byy;
            yz += byz;
            zz += bzz;
        }
        double n = points.Length;
        xx -= x * x / n;
        xy -= x * y / n;
        xz -= x * z / n;
        yy -= y * y / n;
        yz -= y * z / n;
        zz -= z * z / n;
        Span<double> m = [xx, xy, xz, xy, yy, yz, xz, yz, zz];
        Span<double> values = stackalloc double[3];
        Span<double> v = stackalloc double[9];
        SymmetricEigen.Solve(3, m, values, v);
        return new Spread3(
            new Vector3D(pilot.X + (x / n), pilot.Y + (y / n), pilot.Z + (z / n)),
            new Vector3D(v[0], v[3], v[6]),
            new Vector3D(v[1], v[4], v[7]),
            new Vector3D(v[2], v[5], v[8]),
            Math.Sqrt(Math.Max(0, values[0]) / n),
            Math.Sqrt(Math.Max(0, values[1]) / n),
            Math.Sqrt(Math.Max(0, values[2]) / n));
    }
}
