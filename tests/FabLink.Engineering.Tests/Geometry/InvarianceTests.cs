using CsCheck;
using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

/// <summary>A form error belongs to the part: it does not know where the part lies, how it is turned or in which unit it is measured.</summary>
public class InvarianceTests
{
    private const int Cases = 60;
    private static readonly Gen<int> Seeds = Gen.Int[1, 1_000_000];
    private static readonly Gen<(int Seed, double Angle)> Turns = Gen.Select(Seeds, Gen.Double[-3.1, 3.1]);
    private static readonly Vector2D Far2 = new(1e6, -1e6);
    private static readonly Vector3D Far3 = new(1e6, -1e6, 1e6);

    private static readonly (Func<int, Vector2D[]> Make, Func<Vector2D[], double> Form)[] Flat =
    [
        (seed => Shapes.Line(seed, 25), p => LeastSquares.Line(p).Form),
        (seed => Shapes.Circle(seed, 40), p => LeastSquares.Circle(p).Form),
        (seed => Shapes.Line(seed, 25), p => MinimumZone.Straightness(p).Width),
        (seed => Shapes.Circle(seed, 25), p => MinimumZone.Circularity(p).Width),
        (seed => Shapes.Circle(seed, 40, arc: 2), p => LeastSquares.Circle(p).Radius),
    ];

    private static readonly (Func<int, Vector3D[]> Make, Func<Vector3D[], double> Form)[] Solid =
    [
        (seed => Shapes.Plane(seed, 30), p => LeastSquares.Plane(p).Form),
        (seed => Shapes.Plane(seed, 30), p => MinimumZone.Flatness(p).Width),
        (seed => [.. Shapes.Line(seed, 25).Select(p => new Vector3D(p.X, p.Y, 0.01 * Math.Sin(p.X)))], p => LeastSquares.Line(p).Form),
        (seed => Shapes.Sphere(seed, 40), p => LeastSquares.Sphere(p).Form),
        (seed => Shapes.Cylinder(seed, 40), p => LeastSquares.Cylinder(p).Form),
    ];

    [Fact]
    public void An_offset_of_a_million_millimetres_changes_nothing_at_1e_minus_9() => Seeds.Sample(
        seed =>
        {
            foreach (var (make, form) in Flat)
                Assert.Equal(form(make(seed).OnGrid()), form(make(seed).OnGrid().Moved(Far2)), 1e-9);
            foreach (var (make, form) in Solid)
                Assert.Equal(form(make(seed).OnGrid()), form(make(seed).OnGrid().Moved(Far3)), 1e-9);
        },
        iter: Fuzz.Times(Cases));

    [Fact]
    public void Turning_the_part_changes_nothing() => Turns.Sample(
        turn =>
        {
            var axis = Shapes.Direction(new Random(turn.Seed));
            foreach (var (make, form) in Flat)
                Assert.Equal(form(make(turn.Seed)), form(make(turn.Seed).Turned(turn.Angle)), 1e-9);
            foreach (var (make, form) in Solid)
                Assert.Equal(form(make(turn.Seed)), form(make(turn.Seed).Turned(axis, turn.Angle)), 1e-9);
        },
        iter: Fuzz.Times(Cases));

    [Fact]
    public void Inches_instead_of_millimetres_scale_the_answer_by_exactly_25_4() => Seeds.Sample(
        seed =>
        {
            foreach (var (make, form) in Flat)
                Assert.Equal(25.4 * form(make(seed)), form(make(seed).Scaled(25.4)), 1e-9);
            foreach (var (make, form) in Solid)
                Assert.Equal(25.4 * form(make(seed)), form(make(seed).Scaled(25.4)), 1e-9);
        },
        iter: Fuzz.Times(Cases));
}
