using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

public class DatumFrameTests
{
    // A block whose faces are z = 0, y = 0 and x = 0 of its own frame.
    private static readonly Vector3D[] Bottom = [new(10, 10, 0), new(190, 15, 0), new(100, 90, 0), new(20, 80, 0)];
    private static readonly Vector3D[] Side = [new(15, 0, 20), new(180, 0, 25)];
    private static readonly Vector3D[] End = [new(0, 50, 22)];

    [Fact]
    public void Three_two_and_one_points_on_the_faces_of_a_block_give_its_own_axes_wherever_it_stands()
    {
        for (var seed = 1; seed <= 50; seed++)
        {
            var random = new Random(seed);
            var (axis, angle) = (Shapes.Direction(random), 6 * random.NextDouble());
            var by = new Vector3D(1000 * random.NextDouble(), -500, 300);
            Vector3D[] Placed(Vector3D[] p) => p.Turned(axis, angle).Moved(by);

            var frame = DatumFrame.FromPoints(Placed(Bottom), Placed(Side), Placed(End));
            var hole = new Vector3D(33, 44, 55);
            var found = frame.ToFrame(Placed([hole])[0]);

            Assert.Equal(0, (found - hole).Length, 1e-9);
            Assert.Equal(0, (frame.FromFrame(hole) - Placed([hole])[0]).Length, 1e-9);
            Assert.Equal(0, (frame.X.Cross(frame.Y) - frame.Z).Length, 1e-12);
            Assert.Equal(0, frame.PrimaryFlatness, 1e-9);
        }
    }

    [Fact]
    public void The_secondary_datum_cannot_tilt_the_primary_one()
    {
        // The side leans by 1 mm: seen along z only its trace counts.
        var frame = DatumFrame.FromPoints(Bottom, [new(15, 0, 0), new(15, 1, 40), new(180, 0, 0), new(180, 1, 40)], End);

        Assert.Equal(1, frame.Z.Z, 12);
        Assert.Equal(0.5, frame.Origin.Y, 12);
        Assert.Equal(1, frame.SecondaryStraightness, 12);
    }

    [Fact]
    public void Datums_that_determine_nothing_are_refused_by_name()
    {
        Assert.Equal("primary/points", Assert.Throws<InputError>(() => DatumFrame.FromPoints(Bottom.AsSpan(0, 2), Side, End)).Field);
        Assert.Equal("secondary/points", Assert.Throws<InputError>(() => DatumFrame.FromPoints(Bottom, Side.AsSpan(0, 1), End)).Field);
        Assert.Equal("tertiary/points", Assert.Throws<InputError>(() => DatumFrame.FromPoints(Bottom, Side, [])).Field);
        Assert.Equal("secondary", Assert.Throws<InputError>(() => DatumFrame.FromPoints(Bottom, [new(15, 0, 20), new(15, 0, 40)], End)).Field);
        Assert.Equal("primary", Assert.Throws<InputError>(
            () => DatumFrame.FromPoints(Bottom, [new(15, 0, 0), new(180, 0, 0)], [new(0, 50, 0)])).Field);
        Assert.Equal("secondary/points/1", Assert.Throws<InputError>(
            () => DatumFrame.FromPoints(Bottom, [new(15, 0, 20), new(double.NaN, 0, 0)], End)).Field);
    }
}
