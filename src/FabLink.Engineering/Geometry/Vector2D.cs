namespace FabLink.Engineering.Geometry;

/// <summary>A point or a displacement in the plane, in whatever length unit the caller works in.</summary>
public readonly record struct Vector2D(double X, double Y)
{
    public double LengthSquared => (X * X) + (Y * Y);

    public double Length => Math.Sqrt(LengthSquared);

    /// <summary>Turned a quarter turn counter-clockwise.</summary>
    public Vector2D Perpendicular => new(-Y, X);

    public bool IsFinite => double.IsFinite(X) && double.IsFinite(Y);

    public static Vector2D operator +(Vector2D a, Vector2D b) => new(a.X + b.X, a.Y + b.Y);

    public static Vector2D operator -(Vector2D a, Vector2D b) => new(a.X - b.X, a.Y - b.Y);

    public static Vector2D operator -(Vector2D a) => new(-a.X, -a.Y);

    public static Vector2D operator *(Vector2D a, double s) => new(a.X * s, a.Y * s);

    public static Vector2D operator *(double s, Vector2D a) => a * s;

    public double Dot(Vector2D b) => (X * b.X) + (Y * b.Y);

    public double Cross(Vector2D b) => (X * b.Y) - (Y * b.X);

    public Vector2D Unit() => this * (1 / Length);
}
