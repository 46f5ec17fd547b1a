using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

/// <summary>Seeded sets of points near a known feature, and the moves that must not change a form error.</summary>
internal static class Shapes
{
    public static Vector2D[] Circle(int seed, int count, double radius = 25, double noise = 0.01, double arc = 2 * Math.PI)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(_ =>
        {
            var (sin, cos) = Math.SinCos(arc * random.NextDouble());
            var r = radius + (noise * ((2 * random.NextDouble()) - 1));
            return new Vector2D(3 + (r * cos), -7 + (r * sin));
        })];
    }

    public static Vector2D[] Line(int seed, int count, double noise = 0.02)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(_ =>
        {
            var t = 300 * random.NextDouble();
            return new Vector2D(t, (0.3 * t) + (noise * random.NextDouble()));
        })];
    }

    public static Vector3D[] Plane(int seed, int count, double noise = 0.05)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(_ => new Vector3D(
            400 * random.NextDouble(), 250 * random.NextDouble(), 10 + (noise * random.NextDouble())))];
    }

    public static Vector3D[] Sphere(int seed, int count, double noise = 0.01)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(_ =>
            new Vector3D(5, 6, 7) + ((30 + (noise * random.NextDouble())) * Direction(random)))];
    }

    public static Vector3D[] Cylinder(int seed, int count, double noise = 0.01, double length = 80, double arc = 2 * Math.PI)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(_ =>
        {
            var (sin, cos) = Math.SinCos(arc * random.NextDouble());
            var r = 20 + (noise * random.NextDouble());
            return new Vector3D(r * cos, r * sin, length * random.NextDouble());
        })];
    }

    public static Vector3D Direction(Random random)
    {
        var z = (2 * random.NextDouble()) - 1;
        var (sin, cos) = Math.SinCos(2 * Math.PI * random.NextDouble());
        var r = Math.Sqrt(1 - (z * z));
        return new Vector3D(r * cos, r * sin, z);
    }

    /// <summary>Rounded to 2⁻²⁰, so that adding 1e6 is exact and a change of the answer is the routine's own.</summary>
    public static Vector2D[] OnGrid(this Vector2D[] points) => [.. points.Select(p => new Vector2D(Grid(p.X), Grid(p.Y)))];

    public static Vector3D[] OnGrid(this Vector3D[] points) =>
        [.. points.Select(p => new Vector3D(Grid(p.X), Grid(p.Y), Grid(p.Z)))];

    public static Vector2D[] Moved(this Vector2D[] points, Vector2D by) => [.. points.Select(p => p + by)];

    public static Vector3D[] Moved(this Vector3D[] points, Vector3D by) => [.. points.Select(p => p + by)];

    public static Vector2D[] Scaled(this Vector2D[] points, double by) => [.. points.Select(p => by * p)];

    public static Vector3D[] Scaled(this Vector3D[] points, double by) => [.. points.Select(p => by * p)];

    public static Vector2D[] Turned(this Vector2D[] points, double angle)
    {
        var (sin, cos) = Math.SinCos(angle);
        return [.. points.Select(p => new Vector2D((cos * p.X) - (sin * p.Y), (sin * p.X) + (cos * p.Y)))];
    }

    /// <summary>Rodrigues' rotation about a unit axis.</summary>
    public static Vector3D Turned(this Vector3D p, Vector3D axis, double angle)
    {
        var (sin, cos) = Math.SinCos(angle);
        return (cos * p) + (sin * axis.Cross(p)) + ((1 - cos) * axis.Dot(p) * axis);
    }

    public static Vector3D[] Turned(this Vector3D[] points, Vector3D axis, double angle) =>
        [.. points.Select(p => p.Turned(axis, angle))];

    private static double Grid(double x) => Math.Round(x * 1048576) / 1048576;
}
