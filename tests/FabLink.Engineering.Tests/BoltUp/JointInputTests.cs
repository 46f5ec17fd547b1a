using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class JointInputTests
{
    private static readonly JointHole First = Joints.Round("1", 0, 0, 0, 0);
    private static readonly JointHole Second = Joints.Round("2", 100, 0, 100, 0);

    [Fact]
    public void A_joint_without_holes_is_refused() => Refused("holes", Joints.Of());

    [Fact]
    public void Two_holes_of_one_name_are_refused() => Refused("holes/1/name", Joints.Of(First, Second with { Name = "1" }));

    [Fact]
    public void A_hole_without_a_name_is_refused() => Refused("holes/1/name", Joints.Of(First, Second with { Name = " " }));

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    [InlineData(0)]
    [InlineData(-13)]
    public void A_diameter_that_is_no_diameter_is_refused(double diameter)
    {
        Refused("holes/1/a/diameter", Joints.Of(First, Second with { A = Second.A with { Diameter = diameter } }));
        Refused("holes/1/b/diameter", Joints.Of(First, Second with { B = Second.B with { Diameter = diameter } }));
        Refused("holes/1/fastener", Joints.Of(First, Second with { Fastener = diameter }));
    }

    [Fact]
    public void A_centre_that_is_no_number_is_refused()
    {
        Refused("holes/0/b/x", Joints.Of(First with { B = First.B with { X = double.NaN } }));
        Refused("holes/0/a/y", Joints.Of(First with { A = First.A with { Y = double.NegativeInfinity } }));
    }

    [Fact]
    public void Slots_in_both_parts_or_against_a_stud_are_refused()
    {
        var slot = new Slot(4, 0);
        Refused("holes/0/b/slot", Joints.Of(First with { A = First.A with { Slot = slot }, B = First.B with { Slot = slot } }));
        Refused("holes/0/a/slot", Joints.Of(First with { A = First.A with { Slot = slot }, Kind = FastenerKind.Stud }));
        Refused("holes/0/b/slot/travel", Joints.Of(First with { B = First.B with { Slot = new Slot(-1, 0) } }));
        Refused("holes/0/b/slot/angleDegrees", Joints.Of(First with { B = First.B with { Slot = new Slot(1, double.NaN) } }));
    }

    [Fact]
    public void Reversed_deviations_of_a_diameter_are_refused() =>
        Refused("holes/0/b/diameterUpper", Joints.Of(First with { B = First.B with { Spread = new HoleSpread(0, 0, 0.2, 0.1) } }));

    [Theory]
    [InlineData(-1)]
    [InlineData(181)]
    [InlineData(double.NaN)]
    public void A_rotation_limit_outside_the_half_turn_is_refused(double limit) =>
        Refused("rotationLimitDegrees", Joints.Of(First) with { RotationLimitDegrees = limit });

    [Fact]
    public void A_negative_film_is_refused()
    {
        Refused("film/a", Joints.Of(First) with { FilmA = -0.1 });
        Refused("film/b", Joints.Of(First) with { FilmB = double.NaN });
    }

    private static void Refused(string field, Joint joint) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => PlanarBoltUp.Solve(joint)).Field);
}
