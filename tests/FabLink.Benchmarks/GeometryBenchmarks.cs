using BenchmarkDotNet.Attributes;
using FabLink.Engineering.Geometry;

namespace FabLink.Benchmarks;

/// <summary>Fits of a million points against one pass over the same memory.</summary>
[MemoryDiagnoser]
public class GeometryBenchmarks
{
    private const int Count = 1_000_000;
    private Vector3D[] plane = [];
    private Vector2D[] circle = [];
    private Vector3D[] cylinder = [];

    [GlobalSetup]
    public void Prepare()
    {
        var random = new Random(1);
        double Next(double width) => width * random.NextDouble();
        plane = [.. Enumerable.Range(0, Count).Select(_ => new Vector3D(Next(400), Next(250), Next(0.05)))];
        circle = [.. Enumerable.Range(0, Count).Select(_ =>
        {
            var (sin, cos) = Math.SinCos(Next(2 * Math.PI));
            var r = 25 + Next(0.01);
            return new Vector2D(r * cos, r * sin);
        })];
        cylinder = [.. circle.Select(p => new Vector3D(p.X, p.Y, Next(80)))];
    }

    [Benchmark(Baseline = true)]
    public double One_pass_over_memory()
    {
        var sum = 0.0;
        foreach (ref readonly var p in plane.AsSpan())
            sum += p.X + p.Y + p.Z;
        return sum;
    }

    [Benchmark]
    public double Plane_by_least_squares() => LeastSquares.Plane(plane).Form;

    [Benchmark]
    public double Flatness_by_minimum_zone() => MinimumZone.Flatness(plane).Width;

    [Benchmark]
    public double Circle_by_least_squares() => LeastSquares.Circle(circle).Form;

    [Benchmark]
    public double Cylinder_by_least_squares() => LeastSquares.Cylinder(cylinder).Form;
}
