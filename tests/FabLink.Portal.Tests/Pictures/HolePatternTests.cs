using System.Globalization;
using AngleSharp.Dom;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Tests.Pictures;

public class HolePatternTests
{
    private static double Number(IElement element, string attribute) => double.Parse(element.GetAttribute(attribute)!, CultureInfo.InvariantCulture);

    [Fact]
    public void The_y_axis_points_upwards_as_on_the_drawing()
    {
        var zones = Drawn.Of(new HolePattern([new("low", 0, 0, 1, 0, 0), new("high", 0, 100, 1, 0, 0)])).QuerySelectorAll("circle.zone");
        Assert.True(Number(zones[1], "cy") < Number(zones[0], "cy"));
    }

    [Fact]
    public void The_arrow_is_magnified_as_much_as_the_circle()
    {
        // Shift equals the allowance: the arrow ends on the circle whatever the magnification.
        var picture = Drawn.Of(new HolePattern([new("1", 0, 0, 1.5, 1.5, 0), new("2", 100, 0, 1.5, 0, 0)], Magnification: 10));
        var zone = picture.QuerySelector("circle.zone")!;
        var end = picture.QuerySelector("path.shift")!.GetAttribute("d")!.Split('L')[1].Split(' ')[0];
        Assert.Equal(Number(zone, "cx") + Number(zone, "r"), double.Parse(end, CultureInfo.InvariantCulture), 1);
    }

    /// <summary>Swapped names: a hole is as far off as the plate is wide. The picture keeps to its frame, so nothing beside it is covered.</summary>
    [Fact]
    public void A_hole_that_is_far_off_stays_inside_the_picture()
    {
        var picture = Drawn.Of(new HolePattern([new("1", 0, 0, 100, 100, 0), new("2", 100, 0, 100, -100, 0), new("3", 0, 50, 1, 0, 0), new("4", 100, 50, 1, 0, 0)]));
        var box = picture.GetAttribute("viewBox")!.Split(' ').Select(each => double.Parse(each, CultureInfo.InvariantCulture)).ToArray();
        Assert.All(picture.QuerySelectorAll("circle.zone"), zone =>
        {
            Assert.InRange(Number(zone, "cx") - Number(zone, "r"), 0, box[2]);
            Assert.InRange(Number(zone, "cx") + Number(zone, "r"), 0, box[2]);
            Assert.InRange(Number(zone, "cy") - Number(zone, "r"), 0, box[3]);
            Assert.InRange(Number(zone, "cy") + Number(zone, "r"), 0, box[3]);
        });
    }

    [Fact]
    public void A_slot_is_a_stadium_turned_to_its_direction()
    {
        var slot = Drawn.Of(new HolePattern([new("1", 0, 0, 1, 0, 0, HalfTravel: 4, SlotAngle: 30), new("2", 100, 0, 1, 0, 0)])).QuerySelector("rect.zone")!;
        // Two half travels and two radii long, two radii wide: (4 + 1) / 1.
        Assert.Equal(5, Number(slot, "width") / Number(slot, "height"), 1);
        Assert.StartsWith("rotate(-30 ", slot.GetAttribute("transform"));
    }

    [Theory]
    [InlineData(3.9, 0, 1)]
    [InlineData(0, 0.9, 0.1)]
    [InlineData(5, 0, 0)]
    [InlineData(5.5, 0, -0.5)]
    public void Clearance_left_in_a_slot_is_measured_from_its_middle_line(double x, double y, double left) =>
        Assert.Equal(left, new HoleMark("1", 0, 0, 1, x, y, HalfTravel: 4).Left, 9);

    [Fact]
    public void A_fastener_that_does_not_pass_carries_a_diamond_and_is_named_in_words()
    {
        var picture = Drawn.Of(new HolePattern([new("3", 0, 0, 1.5, 1.6, 0, Limiting: true), new("4", 200, 0, 1.5, -1.4, 0)]));
        Assert.Equal(2, picture.QuerySelectorAll("path.shift.no").Length);
        Assert.Single(picture.QuerySelectorAll("path.corner"));
        Assert.Equal("2 holes: the fastener does not pass at hole 3; 0.1 mm too far at hole 3; limiting: 3", picture.GetAttribute("aria-label"));
    }

    [Fact]
    public void A_pattern_that_bolts_up_says_its_least_clearance() => Assert.Equal(
        "2 holes: every fastener passes; least clearance 0.1 mm at hole 4",
        Drawn.Of(new HolePattern([new("3", 0, 0, 1.5, 1, 0), new("4", 200, 0, 1.5, -1.4, 0)])).GetAttribute("aria-label"));

    // 0.1 mm is 0.0039 in; a scale of a round length in inches.
    [Fact]
    public void The_picture_of_an_inch_joint_speaks_in_inches()
    {
        var picture = Drawn.Of(new HolePattern([new("3", 0, 0, 1.5, 1, 0), new("4", 200, 0, 1.5, -1.4, 0)]) { Unit = "in" });
        Assert.Equal("2 holes: every fastener passes; least clearance 0.0039 in at hole 4", picture.GetAttribute("aria-label"));
        Assert.Matches(@"0\.0*[125] in in the circles and arrows", picture.TextContent);
        Assert.DoesNotContain("mm", picture.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public void One_hole_alone_is_drawn_without_a_pattern_to_scale_by()
    {
        var picture = Drawn.Of(new HolePattern([new("1", 5, 5, 1.5, 0.2, 0.1)]));
        Assert.DoesNotContain("NaN", picture.OuterHtml, StringComparison.Ordinal);
        Assert.Single(picture.QuerySelectorAll("circle.zone"));
    }
}
