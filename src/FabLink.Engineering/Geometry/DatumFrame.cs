namespace FabLink.Engineering.Geometry;

/// <summary>
/// Coordinates of a part from three datum features, three, two and one degrees of freedom at a time (the 3-2-1 rule; ISO 5459
/// order of primary, secondary, tertiary). The axes are right-handed unit vectors; <paramref name="PrimaryFlatness"/> is the spread of the primary
/// points about their plane, <paramref name="SecondaryStraightness"/> that of the secondary points about their trace.
/// </summary>
public sealed record DatumFrame(
    Vector3D Origin, Vector3D X, Vector3D Y, Vector3D Z, double PrimaryFlatness, double SecondaryStraightness)
{
    /// <summary>
    /// The primary points give z by a least squares plane; the secondary points, seen along z, give y by a least squares line; the
    /// tertiary points give the origin along x by their mean. z points from the primary plane to where the other points lie, y from
    /// the secondary plane to where the tertiary points lie, so all three point into the part when the datums are its faces.
    /// </summary>
    /// <exception cref="InputError">Too few points, points that do not determine their plane, or features that touch so that
    /// no side can be told.</exception>
    public static DatumFrame FromPoints(
        ReadOnlySpan<Vector3D> primary, ReadOnlySpan<Vector3D> secondary, ReadOnlySpan<Vector3D> tertiary)
    {
        var plane = PrimaryPlane(primary);
        Require(secondary, 2, "secondary");
        Require(tertiary, 1, "tertiary");

        var inside = (Mean(secondary, plane.Point) * secondary.Length) + (Mean(tertiary, plane.Point) * tertiary.Length);
        var z = Towards(plane.Normal, inside, "primary", "the secondary and tertiary points lie in it");

        var u = z.AnyPerpendicular();
        var v = z.Cross(u);
        var seen = new Vector2D[secondary.Length];
        for (var i = 0; i < seen.Length; i++)
        {
            var p = secondary[i] - plane.Point;
            seen[i] = new Vector2D(u.Dot(p), v.Dot(p));
        }
        var trace = Trace(seen);
        var across = (-trace.Direction.Y * u) + (trace.Direction.X * v);
        var onTrace = (trace.Point.X * u) + (trace.Point.Y * v);
        var third = Mean(tertiary, plane.Point);
        var y = Towards(across, third - onTrace, "secondary", "the tertiary points lie in it");
        var x = y.Cross(z);

        var origin = plane.Point + (y.Dot(onTrace) * y) + (x.Dot(third) * x);
        return new DatumFrame(origin, x, y, z, plane.Form, trace.Form);
    }

    /// <summary>Coordinates in this frame of a point given as it was measured.</summary>
    public Vector3D ToFrame(Vector3D measured)
    {
        var p = measured - Origin;
        return new Vector3D(X.Dot(p), Y.Dot(p), Z.Dot(p));
    }

    /// <summary>The inverse of <see cref="ToFrame"/>.</summary>
    public Vector3D FromFrame(Vector3D local) => Origin + (local.X * X) + (local.Y * Y) + (local.Z * Z);

    private static PlaneFit PrimaryPlane(ReadOnlySpan<Vector3D> points)
    {
        try
        {
            return LeastSquares.Plane(points);
        }
        catch (InputError error)
        {
            throw error.Within("primary");
        }
    }

    private static void Require(ReadOnlySpan<Vector3D> points, int needed, string datum)
    {
        try
        {
            PointChecks.Require(points, needed, $"{datum} datum");
        }
        catch (InputError error)
        {
            throw error.Within(datum);
        }
    }

    private static LineFit2 Trace(Vector2D[] seen)
    {
        var spread = Spread2.Of(seen);
        var extent = seen.Max(p => (p - spread.Centre).Length);
        if (extent <= 1e-9 * seen.Max(p => p.Length))
            throw new InputError("secondary", "The secondary points lie one above the other along the primary normal; they give no direction.");
        return LeastSquares.Line(seen);
    }

    private static Vector3D Towards(Vector3D normal, Vector3D inside, string datum, string why)
    {
        var side = normal.Dot(inside);
        if (Math.Abs(side) <= 1e-9 * inside.Length)
            throw new InputError(datum, $"The side of the {datum} datum that the part is on cannot be told: {why}.");
        return side < 0 ? -normal : normal;
    }

    private static Vector3D Mean(ReadOnlySpan<Vector3D> points, Vector3D about)
    {
        Vector3D sum = default;
        foreach (var p in points)
            sum += p - about;
        return sum * (1.0 / points.Length);
    }
}
