namespace FabLink.Engineering.Geometry;

/// <summary>A straight line in the plane. <paramref name="Form"/> is the straightness about this line: the distance between the
/// two parallels to it that hold all points. <paramref name="Direction"/> is a unit vector.</summary>
public sealed record LineFit2(Vector2D Point, Vector2D Direction, double Form, double SumOfSquares)
{
    /// <summary>Distance of <paramref name="p"/> from the line, positive on its left.</summary>
    public double Distance(Vector2D p) => Direction.Cross(p - Point);
}

/// <summary>A straight line in space. <paramref name="Form"/> is the diameter of the cylinder about this line that holds all
/// points. <paramref name="Direction"/> is a unit vector.</summary>
public sealed record LineFit3(Vector3D Point, Vector3D Direction, double Form, double SumOfSquares)
{
    public double Distance(Vector3D p) => Direction.Cross(p - Point).Length;
}

/// <summary>A plane. <paramref name="Form"/> is the flatness about this plane: the distance between the two parallels to it
/// that hold all points. <paramref name="Normal"/> is a unit vector.</summary>
public sealed record PlaneFit(Vector3D Point, Vector3D Normal, double Form, double SumOfSquares)
{
    /// <summary>Distance of <paramref name="p"/> from the plane, positive on the side of the normal.</summary>
    public double Distance(Vector3D p) => Normal.Dot(p - Point);
}

/// <summary>A circle in the plane. <paramref name="Form"/> is the circularity about its centre: the difference of the largest
/// and the smallest distance from it.</summary>
public sealed record CircleFit(Vector2D Centre, double Radius, double Form, double SumOfSquares)
{
    /// <summary>Distance of <paramref name="p"/> from the circle, positive outside.</summary>
    public double Distance(Vector2D p) => (p - Centre).Length - Radius;
}

/// <summary>A sphere; <paramref name="Form"/> as for <see cref="CircleFit"/>.</summary>
public sealed record SphereFit(Vector3D Centre, double Radius, double Form, double SumOfSquares)
{
    /// <summary>Distance of <paramref name="p"/> from the sphere, positive outside.</summary>
    public double Distance(Vector3D p) => (p - Centre).Length - Radius;
}

/// <summary>A cylinder: <paramref name="Point"/> is the point of its axis beside the centroid of the points,
/// <paramref name="Direction"/> a unit vector; <paramref name="Form"/> is the cylindricity about this axis.</summary>
public sealed record CylinderFit(Vector3D Point, Vector3D Direction, double Radius, double Form, double SumOfSquares)
{
    /// <summary>Distance of <paramref name="p"/> from the cylinder, positive outside.</summary>
    public double Distance(Vector3D p) => Direction.Cross(p - Point).Length - Radius;
}
