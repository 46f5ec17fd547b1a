namespace FabLink.Engineering.Geometry;

/// <summary>Best fit of matched points in the plane: to ≈ ToCentre + Applied·R(θ)(from − FromCentre).</summary>
/// <param name="Angle">θ in radians, counter-clockwise.</param>
/// <param name="FromCentre">Centroid of the points that are moved.</param>
/// <param name="ToCentre">Centroid of the points they are moved to.</param>
/// <param name="Scale">The scale that would fit best; 1 when both sets have the same size.</param>
/// <param name="Applied">The scale that was applied: 1 unless fitting it was asked for.</param>
/// <param name="Residuals">To less moved from, per point.</param>
/// <param name="RootMeanSquare">Of the residual lengths.</param>
/// <param name="Cautions">Signs of a mirrored or an inch pattern.</param>
public sealed record RigidFit2(
    double Angle,
    Vector2D FromCentre,
    Vector2D ToCentre,
    double Scale,
    double Applied,
    IReadOnlyList<Vector2D> Residuals,
    double RootMeanSquare,
    IReadOnlyList<string> Cautions)
{
    public Vector2D Apply(Vector2D from)
    {
        var (sin, cos) = Math.SinCos(Angle);
        var p = Applied * (from - FromCentre);
        return ToCentre + new Vector2D((cos * p.X) - (sin * p.Y), (sin * p.X) + (cos * p.Y));
    }
}

/// <summary>Best fit of matched points in space; rows of the rotation are <paramref name="Row1"/> to <paramref name="Row3"/>,
/// the rest as for <see cref="RigidFit2"/>.</summary>
public sealed record RigidFit3(
    Vector3D Row1,
    Vector3D Row2,
    Vector3D Row3,
    Vector3D FromCentre,
    Vector3D ToCentre,
    double Scale,
    double Applied,
    IReadOnlyList<Vector3D> Residuals,
    double RootMeanSquare,
    IReadOnlyList<string> Cautions)
{
    public Vector3D Apply(Vector3D from)
    {
        var p = Applied * (from - FromCentre);
        return ToCentre + new Vector3D(Row1.Dot(p), Row2.Dot(p), Row3.Dot(p));
    }
}

/// <summary>Least squares rotation and shift of one set of points onto another, point by point; never a reflection. In space by the
/// quaternion of B. K. P. Horn, Journal of the Optical Society of America A 4, 1987; in the plane its closed form.</summary>
public static class RigidFit
{
    /// <summary>A mirrored pattern is suspected when mirroring would leave less than this part of the sum of squares.</summary>
    private const double MirrorSuspicion = 0.25;

    private const double MillimetresPerInch = 25.4;

    /// <exception cref="InputError">Sets of different length, fewer than two different points, or a rotation that is not determined.</exception>
    public static RigidFit2 Match(ReadOnlySpan<Vector2D> from, ReadOnlySpan<Vector2D> to, bool fitScale = false)
    {
        CheckLengths(from.Length, to.Length);
        var (p0, q0) = (CentreInPlane(from, "from"), CentreInPlane(to, "to"));
        double dot = 0, cross = 0, mirroredDot = 0, mirroredCross = 0, fromSize = 0, toSize = 0;
        for (var i = 0; i < from.Length; i++)
        {
            var (p, q) = (from[i] - p0, to[i] - q0);
            dot += p.Dot(q);
            cross += p.Cross(q);
            mirroredDot += (p.X * q.X) - (p.Y * q.Y);
            mirroredCross += (p.X * q.Y) + (p.Y * q.X);
            fromSize += p.LengthSquared;
            toSize += q.LengthSquared;
        }
        var (direct, mirrored) = (Math.Sqrt((dot * dot) + (cross * cross)), Math.Sqrt((mirroredDot * mirroredDot) + (mirroredCross * mirroredCross)));
        if (direct <= 1e-12 * Math.Sqrt(fromSize * toSize))
            throw new InputError("to", "No rotation fits better than another: the two sets do not correspond.");

        var scale = direct / fromSize;
        var fit = new RigidFit2(
            Math.Atan2(cross, dot), p0, q0, scale, fitScale ? scale : 1, [], 0, Cautions(direct, mirrored, fromSize, toSize, scale));
        // About the centroids, so that a far origin costs no digits.
        var local = fit with { ToCentre = default };
        var residuals = new Vector2D[from.Length];
        var sum = 0.0;
        for (var i = 0; i < residuals.Length; i++)
        {
            residuals[i] = to[i] - q0 - local.Apply(from[i]);
            sum += residuals[i].LengthSquared;
        }
        return fit with { Residuals = residuals, RootMeanSquare = Math.Sqrt(sum / residuals.Length) };
    }

    /// <exception cref="InputError">Sets of different length, fewer than three different points, or points on one line.</exception>
    public static RigidFit3 Match(ReadOnlySpan<Vector3D> from, ReadOnlySpan<Vector3D> to, bool fitScale = false)
    {
        CheckLengths(from.Length, to.Length);
        var (p0, q0) = (CentreInSpace(from, "from"), CentreInSpace(to, "to"));
        Vector3D sx = default, sy = default, sz = default;
        double fromSize = 0, toSize = 0;
        for (var i = 0; i < from.Length; i++)
        {
            var (p, q) = (from[i] - p0, to[i] - q0);
            sx += p.X * q;
            sy += p.Y * q;
            sz += p.Z * q;
            fromSize += p.LengthSquared;
            toSize += q.LengthSquared;
        }

        Span<double> n =
        [
            sx.X + sy.Y + sz.Z, sy.Z - sz.Y, sz.X - sx.Z, sx.Y - sy.X,
            sy.Z - sz.Y, sx.X - sy.Y - sz.Z, sx.Y + sy.X, sz.X + sx.Z,
            sz.X - sx.Z, sx.Y + sy.X, sy.Y - sx.X - sz.Z, sy.Z + sz.Y,
            sx.Y - sy.X, sz.X + sx.Z, sy.Z + sz.Y, sz.Z - sx.X - sy.Y,
        ];
        Span<double> values = stackalloc double[4];
        Span<double> vectors = stackalloc double[16];
        SymmetricEigen.Solve(4, n, values, vectors);
        if (values[3] - values[2] <= 1e-12 * Math.Sqrt(fromSize * toSize))
            throw new InputError("to", "No rotation fits better than another: the two sets do not correspond.");

        var (w, x, y, z) = (vectors[3], vectors[7], vectors[11], vectors[15]);
        var scale = values[3] / fromSize;
        var fit = new RigidFit3(
            new Vector3D(1 - (2 * ((y * y) + (z * z))), 2 * ((x * y) - (w * z)), 2 * ((x * z) + (w * y))),
            new Vector3D(2 * ((x * y) + (w * z)), 1 - (2 * ((x * x) + (z * z))), 2 * ((y * z) - (w * x))),
            new Vector3D(2 * ((x * z) - (w * y)), 2 * ((y * z) + (w * x)), 1 - (2 * ((x * x) + (y * y)))),
            p0,
            q0,
            scale,
            fitScale ? scale : 1,
            [],
            0,
            Cautions(values[3], -values[0], fromSize, toSize, scale));
        var local = fit with { ToCentre = default };
        var residuals = new Vector3D[from.Length];
        var sum = 0.0;
        for (var i = 0; i < residuals.Length; i++)
        {
            residuals[i] = to[i] - q0 - local.Apply(from[i]);
            sum += residuals[i].LengthSquared;
        }
        return fit with { Residuals = residuals, RootMeanSquare = Math.Sqrt(sum / residuals.Length) };
    }

    private static void CheckLengths(int from, int to)
    {
        if (from != to)
            throw new InputError("to", $"Matched sets have the same number of points; {from} and {to} were given.");
    }

    private static Vector2D CentreInPlane(ReadOnlySpan<Vector2D> points, string set)
    {
        try
        {
            PointChecks.Require(points, 2, "rigid fit");
            return Spread2.Of(points).Centre;
        }
        catch (InputError error)
        {
            throw error.Within(set);
        }
    }

    private static Vector3D CentreInSpace(ReadOnlySpan<Vector3D> points, string set)
    {
        try
        {
            PointChecks.Require(points, 3, "rigid fit");
            var spread = Spread3.Of(points);
            return spread.B > PointChecks.RankTolerance * spread.C
                ? spread.Centre
                : throw PointChecks.Degenerate("rotation", "all points lie on one line");
        }
        catch (InputError error)
        {
            throw error.Within(set);
        }
    }

    /// <summary>Sum of squares left is |p|² + |q|² − 2·(best trace), with and without a mirror.</summary>
    private static List<string> Cautions(double direct, double mirrored, double fromSize, double toSize, double scale)
    {
        var cautions = new List<string>();
        var (left, leftMirrored) = (fromSize + toSize - (2 * direct), fromSize + toSize - (2 * mirrored));
        if (left > 1e-12 * toSize && leftMirrored < MirrorSuspicion * left)
            cautions.Add("A mirrored pattern would fit far better: left and right hand, or the side it was measured from, may be mixed up.");
        if (Math.Abs((scale / MillimetresPerInch) - 1) < 0.02 || Math.Abs((scale * MillimetresPerInch) - 1) < 0.02)
            cautions.Add("One set is about 25.4 times as large as the other: inches and millimetres may be mixed up.");
        return cautions;
    }
}
