using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class PlanarBoltUpTests
{
    [Fact]
    public void One_hole_keeps_all_of_its_play_and_needs_no_turn()
    {
        var solution = PlanarBoltUp.Solve(Joints.Of(Joints.Round("1", 0, 0, 0.4, 0)));
        Assert.True(solution.BoltsUp);
        Assert.Equal(1.5, solution.Margin, 9);
        Assert.Equal(1.5, solution.UpperBound, 9);
        Assert.Equal(new Move(-0.4, 0, 0), solution.Move);
        Assert.Equal(["1"], solution.Limiting);
    }

    // Closed form: two holes share the difference of their spacings, unless one hole alone has less play than that.
    [Theory]
    [InlineData(13.5, 13.5, 100, 101)]
    [InlineData(13.5, 13.5, 100, 103.1)]
    [InlineData(12.2, 15.5, 100, 100.4)]
    [InlineData(12.2, 13.5, 640, 655)]
    public void Two_holes_share_the_difference_of_their_spacings(double first, double second, double spacingA, double spacingB)
    {
        var (c1, c2) = (first - 12, second - 12);
        var turned = Math.PI / 5;
        var solution = PlanarBoltUp.Solve(Joints.Of(
            Joints.Round("1", 5, 5, 0, 0, first),
            Joints.Round("2", 5 + spacingA, 5, spacingB * Math.Cos(turned), spacingB * Math.Sin(turned), second)));
        var expected = Math.Min(Math.Min(c1, c2), (c1 + c2 - Math.Abs(spacingA - spacingB)) / 2);
        Assert.Equal(expected, solution.Margin, 1e-6);
        Assert.InRange(expected, solution.Margin - 1e-9, solution.UpperBound + 1e-9);
        Assert.Equal(expected >= 0, solution.BoltsUp);
    }

    // Closed form: four corners turned by what the limit forbids are off by the chord 2r·sin(ψ/2).
    [Theory]
    [InlineData(137, 180, 0)]
    [InlineData(-179, 180, 0)]
    [InlineData(0.5, 0.2, 0.3)]
    [InlineData(-3, 1, 2)]
    public void A_pure_rotation_is_undone_as_far_as_the_part_may_turn(double turned, double limit, double remaining)
    {
        var holes = Enumerable.Range(0, 4).Select(k =>
        {
            double b = (Math.PI / 2 * k) + (turned < -100 || turned > 100 ? 0.1 * k : 0), a = b + (turned * Math.PI / 180);
            return Joints.Round($"{k}", 100 * Math.Cos(a), 100 * Math.Sin(a), 100 * Math.Cos(b), 100 * Math.Sin(b));
        }).ToArray();
        var solution = PlanarBoltUp.Solve(new Joint(holes, 0, 0, limit));
        Assert.Equal(1.5 - (200 * Math.Sin(remaining * Math.PI / 360)), solution.Margin, 1e-6);
        Assert.Equal(Math.Clamp(turned, -limit, limit), solution.Move.RotationDegrees, 1e-5);
    }

    // Closed form: without rotation the margin is the play less the radius of the smallest circle around the offsets.
    [Fact]
    public void A_part_that_cannot_turn_is_centred_on_its_offsets()
    {
        var holes = Enumerable.Range(0, 3).Select(k => Joints.Round(
            $"{k}", (50 * k) + 7 + (0.8 * Math.Cos(2 * Math.PI * k / 3)), 3 + (0.8 * Math.Sin(2 * Math.PI * k / 3)), 50 * k, 0)).ToArray();
        var solution = PlanarBoltUp.Solve(new Joint(holes, 0, 0, 0));
        Assert.Equal(0.7, solution.Margin, 1e-6);
        Assert.Equal(7, solution.Move.X, 1e-3);
        Assert.Equal(3, solution.Limiting.Count);
    }

    [Fact]
    public void Equal_extra_play_everywhere_is_exactly_that_much_margin()
    {
        for (var seed = 0; seed < 100; seed++)
        {
            var joint = Joints.Random(new Random(seed), 5, mixedSlots: false);
            var wider = joint with { Holes = [.. joint.Holes.Select(hole => hole with { B = hole.B with { Diameter = hole.B.Diameter + 0.5 } })] };
            Assert.Equal(PlanarBoltUp.Solve(joint).Margin + 0.25, PlanarBoltUp.Solve(wider).Margin, 1e-6);
        }
    }

    // ASME Y14.5-2018 Appendix B, floating fastener: T = H − F for each part.
    [Fact]
    public void Holes_within_the_floating_fastener_tolerance_always_bolt_up()
    {
        const double H = 13.5, F = 12, T = H - F;
        var random = new Random(5);
        for (var k = 0; k < 400; k++)
        {
            var holes = Enumerable.Range(0, 2 + random.Next(9)).Select(i =>
            {
                double x = 900 * random.NextDouble(), y = 400 * random.NextDouble();
                // Half of the holes on the very edge of their zone: the worst that conforms.
                double OnZone() => random.Next(2) == 0 ? T / 2 : T / 2 * Math.Sqrt(random.NextDouble());
                double ra = OnZone(), rb = OnZone(), ta = 7 * random.NextDouble(), tb = 7 * random.NextDouble();
                return Joints.Round($"{i}", x + (ra * Math.Cos(ta)), y + (ra * Math.Sin(ta)), x + (rb * Math.Cos(tb)), y + (rb * Math.Sin(tb)), H, F);
            }).ToArray();
            Assert.True(PlanarBoltUp.Solve(Joints.Of(holes)).BoltsUp);
        }
    }

    // ASME Y14.5-2018 Appendix B: the rule is sharp, a hair outside the zone there is a joint that fails.
    [Theory]
    [InlineData(0, true)]
    [InlineData(1e-4, false)]
    public void Just_outside_the_floating_fastener_tolerance_a_joint_fails(double outside, bool boltsUp)
    {
        var off = 0.75 + outside;
        var solution = PlanarBoltUp.Solve(Joints.Of(
            Joints.Round("1", 0 + off, 0, 0 - off, 0),
            Joints.Round("2", 300 - off, 0, 300 + off, 0)));
        Assert.Equal(boltsUp, solution.BoltsUp);
        Assert.Equal(-2 * outside, solution.Margin, 1e-6);
    }

    [Fact]
    public void A_slot_takes_up_what_lies_along_it_whichever_part_has_it_and_however_it_is_turned()
    {
        foreach (var turn in (double[])[0, 33, 180])
        {
            var (s, c) = Math.SinCos(turn * Math.PI / 180);
            var plain = Joints.Round("2", 300, 0, 303.9 * c, 303.9 * s);
            var inB = plain with { B = plain.B with { Slot = new Slot(8, turn) } };
            var inA = plain with { A = plain.A with { Slot = new Slot(8, 0) } };
            var across = plain with { B = plain.B with { Slot = new Slot(8, turn + 90) } };
            var first = Joints.Round("1", 0, 0, 0, 0);
            Assert.Equal(-0.45, PlanarBoltUp.Solve(Joints.Of(first, plain)).Margin, 1e-6);
            Assert.Equal(1.5, PlanarBoltUp.Solve(Joints.Of(first, inB)).Margin, 1e-6);
            Assert.Equal(1.5, PlanarBoltUp.Solve(Joints.Of(first, inA)).Margin, 1e-6);
            Assert.True(PlanarBoltUp.Solve(Joints.Of(first, across)).Margin < 0);
        }
    }

    [Fact]
    public void A_slot_that_is_too_short_leaves_the_rest_to_the_play()
    {
        var first = Joints.Round("1", 0, 0, 0, 0);
        var second = Joints.Round("2", 300, 0, 306, 0);
        var slotted = second with { B = second.B with { Slot = new Slot(8, 0) } };
        // 6 off, 4 by half the travel, the other 2 shared by two holes.
        Assert.Equal(0.5, PlanarBoltUp.Solve(Joints.Of(first, slotted)).Margin, 1e-6);
    }

    [Fact]
    public void A_stud_takes_play_from_part_b_only()
    {
        var hole = new JointHole("1", new HoleSide(0, 0, 0), new HoleSide(0, 0, 13), 12, FastenerKind.Stud);
        Assert.Equal(0.5, PlanarBoltUp.Solve(Joints.Of(hole)).Margin, 9);
    }

    [Fact]
    public void Film_takes_twice_its_thickness_from_an_unmasked_hole_of_its_own_part()
    {
        var hole = Joints.Round("1", 0, 0, 0, 0);
        Assert.Equal(1.5 - 0.075 - 0.1, PlanarBoltUp.Solve(new Joint([hole], 0.075, 0.1, 180)).Margin, 9);
        var masked = hole with { B = hole.B with { Masked = true } };
        Assert.Equal(1.5 - 0.075, PlanarBoltUp.Solve(new Joint([masked], 0.075, 0.1, 180)).Margin, 9);
    }

    [Fact]
    public void A_hole_as_small_as_its_fastener_fails_whatever_the_play_on_the_other_side()
    {
        var hole = new JointHole("1", new HoleSide(0, 0, 12.15), new HoleSide(0, 0, 14), 12, FastenerKind.Floating);
        Assert.True(PlanarBoltUp.Solve(Joints.Of(hole)).BoltsUp);
        // Two surfaces of 75 µm close it to the fastener's own size.
        var coated = PlanarBoltUp.Solve(new Joint([hole], 0.075, 0, 180));
        Assert.True(coated.Margin > 0);
        Assert.False(coated.BoltsUp);
        Assert.Equal(["1"], coated.Obstructed);
    }

    [Fact]
    public void Coincident_holes_share_their_offset()
    {
        var solution = PlanarBoltUp.Solve(Joints.Of(Joints.Round("1", 0, 0, 5, 5), Joints.Round("2", 1, 0, 5, 5)));
        Assert.Equal(1, solution.Margin, 1e-6);
    }

    [Fact]
    public void Of_equally_good_moves_the_one_without_a_turn_is_given()
    {
        // A reamed hole decides alone; the other has room to swing.
        var solution = PlanarBoltUp.Solve(Joints.Of(Joints.Round("1", 0, 0, 0, 0, 12.02), Joints.Round("2", 100, 0.3, 100, 0, 15)));
        Assert.Equal(0.02, solution.Margin, 1e-6);
        Assert.Equal(0, solution.Move.RotationDegrees);
    }

    [Fact]
    public void A_million_millimetres_from_the_origin_nothing_changes()
    {
        for (var seed = 0; seed < 60; seed++)
        {
            var joint = Joints.Random(new Random(seed), 5, mixedSlots: false);
            var far = joint with
            {
                Holes = [.. joint.Holes.Select(hole => hole with
                {
                    A = hole.A with { X = hole.A.X + 1e6, Y = hole.A.Y - 1e6 },
                    B = hole.B with { X = hole.B.X + 1e6, Y = hole.B.Y + 1e6 },
                })],
            };
            var (near, there) = (PlanarBoltUp.Solve(joint), PlanarBoltUp.Solve(far));
            Assert.Equal(near.Margin, there.Margin, 1e-6);
            Assert.InRange(there.UpperBound - there.Margin, -1e-8, PlanarBoltUp.PromisedGap);
        }
    }

    [Fact]
    public void Swapping_the_parts_changes_nothing_but_the_direction_of_the_move()
    {
        for (var seed = 0; seed < 100; seed++)
        {
            var joint = Joints.Random(new Random(seed), 4, mixedSlots: false);
            joint = joint with { Holes = [.. joint.Holes.Select(hole => hole with { Kind = FastenerKind.Floating })] };
            var swapped = new Joint([.. joint.Holes.Select(hole => hole with { A = hole.B, B = hole.A })], joint.FilmB, joint.FilmA, 180);
            Assert.Equal(PlanarBoltUp.Solve(joint).Margin, PlanarBoltUp.Solve(swapped).Margin, 1e-6);
        }
    }

    [Fact]
    public void Limiting_holes_are_those_that_have_only_the_margin_left()
    {
        var solution = PlanarBoltUp.Solve(Joints.Of(
            Joints.Round("1", 0, 0, 0, 0), Joints.Round("2", 300, 0, 302, 0), Joints.Round("3", 150, 0, 151, 0)));
        Assert.Equal(["1", "2"], solution.Limiting);
        Assert.Equal(0.5, solution.Margin, 1e-6);
    }
}
