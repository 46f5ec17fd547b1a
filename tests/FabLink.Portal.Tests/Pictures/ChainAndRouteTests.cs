using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Tests.Pictures;

public class ChainAndRouteTests
{
    private static readonly ChainSpread Gap = new("gap", 1.6, 0.2, 3.1, 0.9, 2.4, 0.5, 3, Mark.NotProven);

    [Fact]
    public void A_chain_says_its_links_its_spread_and_what_is_required()
    {
        var picture = Drawn.Of(new ChainPolygon([new("rail", 300, 0, true), new("cradle", -100, 200), new("tube", -201.6, -200)], Gap));
        Assert.Equal(
            "Chain of 3 links (rail, cradle, tube), 1 measured. gap 1.6 mm, worst case 0.2 to 3.1, likely 0.9 to 2.4; required 0.5 to 3 mm: not proven",
            picture.GetAttribute("aria-label"));
    }

    [Fact]
    public void A_measured_link_is_drawn_as_done_and_one_to_be_made_as_planned()
    {
        var picture = Drawn.Of(new ChainPolygon([new("rail", 300, 0, true), new("cradle", -100, 200), new("tube", -190, -190)], Gap));
        // Two strokes each: the line and its arrow head.
        Assert.Equal(2, picture.QuerySelectorAll(".l.done").Length);
        Assert.Equal(4, picture.QuerySelectorAll(".l.planned").Length);
    }

    [Fact]
    public void Links_on_one_line_go_down_a_stair_so_that_each_can_be_read()
    {
        var names = Drawn.Of(new ChainPolygon([new("a", 800, 0), new("b", -700, 0), new("c", -98, 0)], Gap)).QuerySelectorAll("text");
        Assert.Equal(["a", "b", "c"], names.Take(3).Select(n => n.TextContent));
        Assert.Equal(3, names.Take(3).Select(n => n.GetAttribute("y")).Distinct().Count());
    }

    [Theory]
    [InlineData(LineType.Done, "done")]
    [InlineData(LineType.InWork, "in work")]
    [InlineData(LineType.Planned, "planned")]
    [InlineData(LineType.NotDone, "not done")]
    [InlineData(LineType.Outside, "at an outside process")]
    [InlineData(LineType.Held, "held")]
    public void Every_line_of_a_route_says_its_word(LineType line, string word)
    {
        var route = Drawn.Of(new RouteLine([new("Weld", line, "25 Nov")]));
        Assert.Equal(word, route.QuerySelector("svg[role=img]")!.GetAttribute("aria-label"));
        Assert.Equal(word, Drawn.Of(LineSwatch.For(line)).GetAttribute("aria-label"));
    }

    [Fact]
    public void A_swatch_for_a_cell_is_one_constant() =>
        Assert.Same(LineSwatch.For(LineType.Held), LineSwatch.For(LineType.Held));
}
