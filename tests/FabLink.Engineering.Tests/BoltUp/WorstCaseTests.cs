using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public sealed class WorstCaseTests
{
    private static readonly (double X, double Y)[] Places = [(0, 0), (180, 0), (180, 620), (0, 620)];

    // ASME Y14.5-2018, Appendix B: floating fastener, T = H − F for each part.
    [Theory]
    [InlineData(13.5, 12, 1.5, 0)]
    [InlineData(13.5, 12, 1.2, 0.3)]
    [InlineData(13.5, 12, 1.8, -0.3)]
    public void Equal_holes_within_their_zones_are_the_floating_fastener_formula(double hole, double fastener, double zone, double margin)
    {
        var spread = new HoleSpread(0, zone, 0, 0);
        var joint = new Joint([.. Places.Select((at, i) => new JointHole(
            $"{i + 1}", new HoleSide(at.X, at.Y, hole) { Spread = spread }, new HoleSide(at.X, at.Y, hole) { Spread = spread }, fastener, FastenerKind.Floating))], 0, 0, 180);
        Assert.Equal(margin, WorstCase.Margin(joint)!.Value, 1e-6);
    }

    // The corner of a square of ±0.3 and ±0.4 is 0.5 away (Pythagoras).
    [Fact]
    public void Toleranced_coordinates_count_by_their_corner()
    {
        var spread = new HoleSpread(0, 0, 0, 0) { X = new CoordinateSpread(-0.3, 0.3), Y = new CoordinateSpread(-0.4, 0.2) };
        var joint = new Joint([.. Places.Select((at, i) => new JointHole(
            $"{i + 1}", new HoleSide(at.X, at.Y, 13.5), new HoleSide(at.X, at.Y, 13.5) { Spread = spread }, 12, FastenerKind.Floating))], 0, 0, 180);
        Assert.Equal(1.5 - 0.5, WorstCase.Margin(joint)!.Value, 1e-6);
    }

    [Fact]
    public void A_hole_that_may_be_made_too_small_for_its_fastener_has_no_worst_case()
    {
        var joint = new Joint(
            [new JointHole("1", new HoleSide(0, 0, 13.5), new HoleSide(0, 0, 12.2) { Spread = new HoleSpread(0, 0, -0.2, 0.2) }, 12, FastenerKind.Floating)], 0, 0, 180);
        Assert.Null(WorstCase.Margin(joint));
    }

    [Fact]
    public void Nothing_sampled_within_the_drawing_fails_when_the_worst_case_holds()
    {
        var spread = new HoleSpread(0, 0, 0, 0.3) { X = new CoordinateSpread(-0.5, 0.5), Y = new CoordinateSpread(-0.5, 0.5) };
        var joint = new Joint([.. Places.Select((at, i) => new JointHole(
            $"{i + 1}", new HoleSide(at.X, at.Y, 13.5) { Spread = spread }, new HoleSide(at.X, at.Y, 13.5) { Spread = spread }, 12, FastenerKind.Floating))], 0, 0, 180);
        Assert.True(WorstCase.Margin(joint) >= 0);
        Assert.Equal(1, BoltUpProbability.Estimate(joint, 5_000, seed: 7).Value);
        // Twice as wide: the worst case no longer holds, and samples do fail.
        var wide = spread with { X = new CoordinateSpread(-1.5, 1.5), Y = new CoordinateSpread(-1.5, 1.5) };
        var loose = joint with { Holes = [.. joint.Holes.Select(hole => hole with { A = hole.A with { Spread = wide }, B = hole.B with { Spread = wide } })] };
        Assert.True(WorstCase.Margin(loose) < 0);
        Assert.True(BoltUpProbability.Estimate(loose, 5_000, seed: 7).Value < 1);
    }

    private static Joint Slotted(HoleSpread spread, double offset) => new(
        [
            new JointHole("1", new HoleSide(0, 0, 12.4), new HoleSide(0, 0, 12.4), 12, FastenerKind.Floating),
            new JointHole("2", new HoleSide(200, 0, 12.4), new HoleSide(200 + offset, 0, 12.4) { Slot = new Slot(6, 0), Spread = spread }, 12, FastenerKind.Floating),
        ],
        0,
        0,
        0);

    // Along its axis a slot lets the fastener go (L − F)/2: 18.4 over the ends is (18.4 − 12)/2 = 3.2 in b and 0.2 in a, 3.4 together, and the round
    // hole takes 0.4 (closed form: two holes in a row share the offset). 1 mm shorter over the ends is 0.5 less either way; the width takes nothing.
    [Theory]
    [InlineData(0, 0, 0, 3.8)]
    [InlineData(-1, 0, 0, 3.3)]
    [InlineData(-1, -0.2, 0, 3.3)]
    [InlineData(0, 0, 0.3, 3.8)]
    public void A_slot_that_may_come_out_short_or_narrow_counts_by_its_shortest_and_narrowest(double shorter, double narrower, double wider, double reach)
    {
        var spread = new HoleSpread(0, 0, narrower, wider) { Length = new CoordinateSpread(shorter, 0) };
        Assert.True(WorstCase.Margin(Slotted(spread, reach - 0.01)) >= 0);
        Assert.True(WorstCase.Margin(Slotted(spread, reach + 0.01)) < 0);
        // What is sampled shares the bound: nothing fails inside, something does where the shortest no longer reaches.
        Assert.Equal(1, BoltUpProbability.Estimate(Slotted(spread, reach - 0.01), 2_000, seed: 3).Value);
        if (shorter < 0)
            Assert.InRange(BoltUpProbability.Estimate(Slotted(spread, reach + 0.4), 2_000, seed: 3).Value, 0.01, 0.99);
    }

    // The end of 6 mm travel, 3 from the middle, goes 2·3·sin(β/2) aside (chord): 10° is 0.523, more than the play of 0.2 + 0.2 lets by at full travel.
    [Fact]
    public void A_slot_that_may_stand_askew_loses_the_chord_of_its_end()
    {
        HoleSpread Askew(double degrees) => new(0, 0, 0, 0) { Direction = new CoordinateSpread(-degrees, degrees) };
        var straight = WorstCase.Margin(Slotted(Askew(0), 2))!.Value;
        var lost = 6 * Math.Sin(5 * Math.PI / 180);
        Assert.Equal(0.523, lost, 1e-3);
        var askew = WorstCase.Margin(Slotted(Askew(10), 2))!.Value;
        Assert.True(askew <= straight && askew >= straight - lost - 1e-6, $"{askew} against {straight} less at most {lost}");
        Assert.True(askew < straight - 0.1);
        Assert.Equal(1, BoltUpProbability.Estimate(Slotted(Askew(1), 2), 2_000, seed: 3).Value);
        Assert.InRange(BoltUpProbability.Estimate(Slotted(Askew(60), 3.4), 2_000, seed: 3).Value, 0.01, 0.99);
    }
}
