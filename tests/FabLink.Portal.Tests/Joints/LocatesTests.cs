using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;

namespace FabLink.Portal.Tests.Joints;

public sealed class LocatesTests
{
    [Fact]
    public void A_range_of_holes_takes_its_fastener_its_detail_and_its_masking()
    {
        var located = Locates.Parse("rails/1-10 diameter, M12, floating, masked, on left front pad");
        Assert.Equal(("rails", LocatedRole.Diameter), (located.Pattern, located.Role));
        Assert.Equal(Enumerable.Range(1, 10).Select(n => $"{n}"), located.Holes);
        Assert.Equal((12.0, "floating", true, "left front pad"), (located.Fastener!.Value, located.Kind, located.Masked, located.Detail));
    }

    [Theory]
    [InlineData("rails/3 x", LocatedRole.X)]
    [InlineData("foot/a Y", LocatedRole.Y)]
    [InlineData("foot/1+3+7 z, axis x", LocatedRole.Z)]
    [InlineData("foot/2 width", LocatedRole.Diameter)]
    [InlineData("foot/2 length, along 90", LocatedRole.Length)]
    [InlineData("foot/2 direction", LocatedRole.Direction)]
    [InlineData("rails/1-10 position, x 0+180+360+540+720+0+180+360+540+720, y 0", LocatedRole.Position)]
    [InlineData("turn of pad, reach 640", LocatedRole.Turn)]
    public void What_it_gives_of_the_hole_is_read(string text, LocatedRole role) => Assert.Equal(role, Locates.Parse(text).Role);

    // 1 in = 25.4 mm exactly (ISO 31-1, common practice).
    [Theory]
    [InlineData("a/1 diameter, fastener 0.5 in", 12.7)]
    [InlineData("a/1 diameter, fastener 16", 16)]
    [InlineData("a/1 diameter, M6.5", 6.5)]
    public void A_fastener_is_its_major_diameter_in_millimetres(string text, double fastener) => Assert.Equal(fastener, Locates.Parse(text).Fastener!.Value, 1e-12);

    // 300 mm = 11.811 in; 1 in = 25.4 mm exactly. A thread is metric whatever the drawing is in.
    [Theory]
    [InlineData("deck/4 position, x 0, y 11.811", "in", 299.9994)]
    [InlineData("deck/4 position, x 0, y 11.811", "mm", 11.811)]
    [InlineData("deck/4 position, x 0, y 300 mm", "in", 300)]
    [InlineData("deck/4 position, x 0, y 11.811 in", "mm", 299.9994)]
    [InlineData("deck/1+4 position, x 0, y 10+11.811in", "mm", 299.9994)]
    [InlineData("deck/1+4 position, x 0, y 0 mm+11.811", "in", 299.9994)]
    [InlineData("deck/4 diameter, fastener 0.5", "in", 12.7)]
    [InlineData("deck/4 diameter, fastener 12 mm", "in", 12)]
    [InlineData("deck/4 diameter, M12", "in", 12)]
    [InlineData("turn of pad, reach 25.2", "in", 640.08)]
    [InlineData("foot/2 length, along 90", "in", 90)]
    public void A_number_without_a_unit_is_in_that_of_its_row(string text, string unit, double read)
    {
        var located = Locates.Parse(text, unit);
        Assert.Equal(read, located.BasicY.Select(y => (double?)y).LastOrDefault() ?? located.Fastener ?? located.Reach ?? located.Along!.Value, 1e-9);
    }

    [Fact]
    public void A_unit_behind_the_last_of_several_coordinates_is_that_of_all() =>
        Assert.Equal([0, 254, 508], Locates.Parse("deck/1-3 position, x 0+10+20 in").BasicX);

    [Theory]
    [InlineData("Ø0.562 +0.01/0", "", "deck/1-4 diameter, fastener 0.5, x 0+10+0+10, y 0", null)]
    [InlineData("Ø14 +0.2/0 mm", "mm", "deck/1-4 diameter, fastener 12", null)]
    [InlineData("Ø14 +0.2/0 mm", "mm", "deck/1-4 diameter, fastener 0.6 in", "A fastener of 15.24 mm does not pass")]
    [InlineData("Ø0.562 +0.01/0", "", "deck/1-4 diameter, fastener 0.6", "A fastener of 0.6 in does not pass")]
    public void The_table_of_an_inch_drawing_reads_its_fasteners_in_inches(string requirement, string unit, string locates, string? refusal)
    {
        var reading = CharacteristicReader.Read([new CharacteristicEntry { Balloon = "1", Requirement = requirement, Unit = unit, Count = "4", Stages = "tack", Locates = locates }], "in", null);
        if (refusal is null)
            Assert.Empty(reading.Problems);
        else
            Assert.StartsWith(refusal, Assert.Single(reading.Problems).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_pattern_of_an_inch_drawing_is_where_its_inches_have_it()
    {
        LocatedRow Row(int balloon, string kind, string unit, decimal nominal, string locates, string drawing) =>
            new(Balloon(balloon), Guid.NewGuid(), balloon, kind, unit, nominal, nominal, nominal, 2, locates, DrawingUnit: drawing);
        // 10 in = 254 mm. A row in millimetres on an inch drawing has its coordinates in millimetres; one in degrees as the drawing has lengths.
        var pattern = Assert.Single(HolePatterns.Of([Row(1, "position", "in", 0.762m, "deck/1-2 position, x 0+10, y 0", "in"), Row(2, "diameter", "mm", 13.5m, "deck/3-4 diameter, x 0+10, y 0", "in")]));
        Assert.Equal([0.0, 254, 0, 10], pattern.Holes.Select(hole => hole.X!.Drawn));
        Assert.Equal("in", Row(3, "angle", "deg", 0, "turn of pad, reach 25", "in").LengthUnit);
    }

    [Theory]
    [InlineData("rails")]
    [InlineData("rails/ x")]
    [InlineData("rails/3")]
    [InlineData("rails/3 w")]
    [InlineData("rails/9-3 x")]
    [InlineData("rails/3 x, M")]
    [InlineData("rails/3 x, M0")]
    [InlineData("rails/3 x, welded")]
    [InlineData("rails/3 x, axis w")]
    [InlineData("turn of pad, M12")]
    [InlineData("rails/1-3 position, x 0+100")]
    [InlineData(",")]
    public void What_cannot_be_understood_is_refused_in_a_sentence(string text) => Assert.EndsWith(".", Assert.Throws<InputError>(() => Locates.Parse(text)).Message, StringComparison.Ordinal);

    [Fact]
    public void A_pattern_is_gathered_from_its_balloons_and_says_what_it_lacks()
    {
        var revision = Guid.NewGuid();
        LocatedRow Row(int balloon, string kind, decimal nominal, int count, string locates) =>
            new(Guid.NewGuid(), revision, balloon, kind, "mm", nominal, nominal - 0.5m, nominal + 0.5m, count, locates);
        var pattern = Assert.Single(HolePatterns.Of(
        [
            Row(1, "length", 0, 1, "face/1 x, on left pad"), Row(2, "length", 100, 1, "face/2 x"), Row(3, "length", 40, 1, "face/1+2 y"), Row(4, "diameter", 13.5m, 2, "face/1-2 diameter, M12"),
        ]));
        Assert.Empty(pattern.Problems);
        Assert.Equal([0.0, 100], pattern.Holes.Select(hole => hole.X!.Drawn));
        Assert.Equal([40.0, 40], pattern.Holes.Select(hole => hole.Y!.Drawn));
        Assert.Equal(["4.1", "4.2"], pattern.Holes.Select(hole => hole.Diameter!.Balloon));
        Assert.Equal(["left pad", null], pattern.Holes.Select(hole => hole.Detail));

        // A spacing from a first hole that the drawing has at its origin: basic coordinates are exact, and give way to a balloon.
        var spaced = Assert.Single(HolePatterns.Of([Row(3, "diameter", 13.5m, 2, "back/1-2 diameter, M12, x 0, y 0"), Row(4, "length", 160, 1, "back/2 x")]));
        Assert.Empty(spaced.Problems);
        Assert.Equal([(0.0, true), (160, false)], spaced.Holes.Select(hole => (hole.X!.Drawn, hole.X.IsBasic)));
        Assert.All(spaced.Holes, hole => Assert.Equal((0.0, (0.0, 0.0)), (hole.Y!.Drawn, hole.Y.Deviations)));

        var lacking = Assert.Single(HolePatterns.Of([Row(1, "length", 0, 1, "face/1 x"), Row(2, "length", 0, 1, "face/1 x")]));
        Assert.Equal(["Balloons 1 and 2 both give the x of hole 1 of face.", "Hole 1 of face has no y.", "Hole 1 of face has no diameter."], lacking.Problems);
    }

    [Theory]
    [InlineData("⌖ Ø0.75", "", "rails/1-4 position, x 0+100+0+100, y 0", null)]
    [InlineData("Ø0.75", "position", "rails/1 position", null)]
    [InlineData("⌖ Ø0.75", "", "rails/1 x", "rails/1-10 position")]
    [InlineData("120 ±0.5", "", "rails/1 position", "this is not one")]
    public void Only_a_position_tolerance_gives_a_position(string requirement, string kind, string locates, string? refusal)
    {
        var reading = CharacteristicReader.Read(
            [new CharacteristicEntry { Balloon = "1", Requirement = requirement, Kind = kind, Stages = "tack", Locates = locates }], "mm", null);
        if (refusal is null)
            Assert.Empty(reading.Problems);
        else
            Assert.Contains(refusal, Assert.Single(reading.Problems).Message, StringComparison.Ordinal);
    }

    private static JointSideFacts Side(string what, decimal zone, string? modifier = null, IReadOnlyDictionary<(Guid, int), MeasuredNow>? measured = null)
    {
        LocatedRow Row(int balloon, string kind, decimal nominal, decimal lower, decimal upper, string locates, string? letter = null) =>
            new(Balloon(balloon), Guid.NewGuid(), balloon, kind, "mm", nominal, lower, upper, 4, locates, letter);
        var pattern = Assert.Single(HolePatterns.Of(
        [
            Row(1, "diameter", 13.5m, 13.5m, 13.8m, "face/1-4 diameter, M12"),
            Row(2, "position", zone, 0, zone, "face/1-4 position, x 0+200+0+200, y 0+0+100+100", modifier),
        ]));
        Assert.Empty(pattern.Problems);
        return JointSideFacts.OfPattern(what, "part", pattern, measured ?? new Dictionary<(Guid, int), MeasuredNow>());
    }

    private static Guid Balloon(int number) => new(number, 0, 0, new byte[8]);

    // ASME Y14.5-2018, Appendix B: T = H − F = 13.5 − 12 = 1.5 on both sides, at maximum material or regardless of size; least material condition
    // gives the smallest hole 0.3 more zone (ISO 2692), so that 1.2 is the most there.
    [Theory]
    [InlineData(1.5, null, true)]
    [InlineData(1.5, "M", true)]
    [InlineData(1.6, null, false)]
    [InlineData(1.2, "L", true)]
    [InlineData(1.3, "L", false)]
    public void Holes_by_basic_coordinates_and_a_position_tolerance_obey_the_floating_fastener_rule(double zone, string? modifier, bool holds)
    {
        var finding = JointChecking.Find(Side("P", (decimal)zone, modifier), Side("Q", (decimal)zone, modifier), new JointTerms(0, 180, 0, 0));
        Assert.Equal(("as drawn", "bolts up"), (finding.Form, finding.Verdict));
        Assert.Equal([(0.0, 0.0), (200, 0), (0, 100), (200, 100)], finding.Holes.Select(hole => (hole.Part.DrawnX, hole.Part.DrawnY)));
        Assert.Equal(holds, finding.Drawn!.WorstCase >= -1e-9);
        Assert.Equal(holds, finding.Drawn.Probability is null);
    }

    [Fact]
    public void A_measured_position_says_how_far_and_not_where_and_the_joint_says_so()
    {
        var measured = Enumerable.Range(1, 4).ToDictionary(i => (Balloon(2), i), i => new MeasuredNow(i == 1 ? 0.9m : 0.2m, 0.02m, "tack", i == 1 ? 0.2m : null));
        foreach (var i in Enumerable.Range(1, 4))
            measured[(Balloon(1), i)] = new MeasuredNow(13.6m, 0.02m, "tack");
        var side = Side("P", 0.75m, "M", measured);

        Assert.Equal([0.9, 0.2, 0.2, 0.2], side.Holes.Select(hole => hole.Now.PositionTolerance!.Value));
        Assert.All(side.Holes, hole => Assert.Equal((0.75, false, true), (hole.Drawn.PositionTolerance!.Value, hole.Measured, hole.OnlyHowFar)));
        var finding = JointChecking.Find(side, Side("Q", 0.75m), new JointTerms(0, 180, 0, 0));
        Assert.Equal("as built so far", finding.Form);
        Assert.Contains(finding.Cautions, caution => caution.StartsWith("Of holes 1, 2, 3, 4 only the deviation", StringComparison.Ordinal));
        // 0.9 is within 0.75 and the bonus of 0.2; 1.0 would not be (ISO 2692).
        Assert.Empty(finding.Failed);
        measured[(Balloon(2), 1)] = new MeasuredNow(1.0m, null, "tack", 0.2m);
        Assert.Equal("2.1", Assert.Single(Side("P", 0.75m, "M", measured).Holes.SelectMany(hole => hole.Failed)).Balloon);
    }

    [Fact]
    public void Measured_coordinates_come_before_the_position_tolerance()
    {
        LocatedRow Row(int balloon, string kind, decimal nominal, decimal upper, int count, string locates) => new(Balloon(balloon), Guid.NewGuid(), balloon, kind, "mm", nominal, nominal - 1, upper, count, locates);
        var pattern = Assert.Single(HolePatterns.Of(
            [Row(1, "diameter", 13.5m, 13.8m, 1, "face/1 diameter, M12"), Row(2, "position", 0.75m, 0.75m, 1, "face/1 position"), Row(3, "length", 50, 51, 1, "face/1 x"), Row(4, "length", 20, 21, 1, "face/1 y")]));
        var drawn = Assert.Single(JointSideFacts.OfPattern("P", "part", pattern, new Dictionary<(Guid, int), MeasuredNow>()).Holes);
        Assert.Equal((0.75, null), (drawn.Now.PositionTolerance, drawn.Now.XLower));
        var made = Assert.Single(JointSideFacts.OfPattern("P", "part", pattern, new Dictionary<(Guid, int), MeasuredNow>
        {
            [(Balloon(3), 1)] = new(50.2m, 0.05m, "tack"),
            [(Balloon(4), 1)] = new(19.9m, 0.05m, "tack"),
            [(Balloon(1), 1)] = new(13.6m, 0.05m, "tack"),
        }).Holes);
        Assert.Equal((50.2, 19.9, null, true), (made.Now.X!.Value, made.Now.Y!.Value, made.Now.PositionTolerance, made.Measured));
    }

    [Fact]
    public void A_slot_brings_what_its_length_and_its_direction_leave_open_until_they_are_measured()
    {
        LocatedRow Row(int balloon, string kind, decimal nominal, decimal below, decimal above, string locates) =>
            new(Balloon(balloon), Guid.NewGuid(), balloon, kind, "mm", nominal, nominal - below, nominal + above, 1, locates);
        var pattern = Assert.Single(HolePatterns.Of(
        [
            Row(1, "diameter", 13.5m, 0, 0.3m, "foot/1 width, M12, x 0, y 0"), Row(2, "length", 20, 0.5m, 0.5m, "foot/1 length"),
            // Arc-seconds: 90° ± 2°.
            Row(3, "angle", 90 * 3600, 2 * 3600, 2 * 3600, "foot/1 direction"),
        ]));
        BoltUpSlot Slot(params (int Balloon, decimal Value)[] measured) => Assert.Single(JointSideFacts.OfPattern(
            "P", "part", pattern, measured.ToDictionary(one => (Balloon(one.Balloon), 1), one => new MeasuredNow(one.Value, null, "tack"))).Holes).Now.Slot!;

        var open = Slot();
        Assert.Equal((6.5, 90.0, -0.5, 0.5, -2.0, 2.0), (open.Travel!.Value, open.AngleDegrees!.Value, open.LengthLower!.Value, open.LengthUpper!.Value, open.DirectionLower!.Value, open.DirectionUpper!.Value));
        // The length is measured, the width is not: what the width still takes comes off the travel.
        Assert.Equal((6.4, 0.0, 0.0), (Slot((2, 19.9m)).Travel!.Value, Slot((2, 19.9m)).LengthLower!.Value, Slot((2, 19.9m)).LengthUpper!.Value), (one, other) =>
            Math.Abs(one.Item1 - other.Item1) < 1e-9 && (one.Item2, one.Item3) == (other.Item2, other.Item3));
        var whole = Slot((1, 13.6m), (2, 19.9m), (3, 91 * 3600));
        Assert.Equal((91.0, null, null, null), (whole.AngleDegrees, whole.LengthLower, whole.LengthUpper, whole.DirectionLower));
    }
}
