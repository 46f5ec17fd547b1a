namespace FabLink.Engineering.Geometry;

/// <summary>A point or a displacement in space, in whatever length unit the caller works in.</summary>
public readonly record struct Vector3D(double X, double Y, double Z)
{
    public double LengthSquared => (X * X) + (Y * Y) + (Z * Z);

    public double Length => Math.Sqrt(LengthSquared);

    public bool IsFinite => double.IsFinite(X) && double.IsFinite(Y) && double.IsFinite(Z);

    public static Vector3D operator +(Vector3D a, Vector3D b) => new(a.X + b.X, a.Y + b.Y, a.Z + b.Z);

    public static Vector3D operator -(Vector3D a, Vector3D b) => new(a.X - b.X, a.Y - b.Y, a.Z - b.Z);

    public static Vector3D operator -(Vector3D a) => new(-a.X, -a.Y, -a.Z);

    public static Vector3D operator *(Vector3D a, double s) => new(a.X * s, a.Y * s, a.Z * s);

    public static Vector3D operator *(double s, Vector3D a) => a * s;

    public double Dot(Vector3D b) => (X * b.X) + (Y * b.Y) + (Z * b.Z);

    public Vector3D Cross(Vector3D b) =>
        new((Y * b.Z) - (Z * b.Y), (Z * b.X) - (X * b.Z), (X * b.Y) - (Y * b.X));

    public Vector3D Unit() => this * (1 / Length);

    /// <summary>A unit vector at right angles to this one, built on the axis that it leans on least.</summary>
    internal Vector3D AnyPerpendicular()
    {
        var (x, y, z) = (Math.Abs(X), Math.Abs(Y), Math.Abs(Z));
        var axis = x <= y && x <= z ? new Vector3D(1, 0, 0) : y <= z ? new Vector3D(0, 1, 0) : new Vector3D(0, 0, 1);
        return Cross(axis).Unit();
    }
}
