using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Tests.Pictures;

public class LimitBarTests
{
    private static double X(string selector, LimitBar bar) =>
        double.Parse(Drawn.Of(bar).QuerySelector(selector)!.GetAttribute("cx")!);

    [Fact]
    public void A_value_in_the_middle_of_the_zone_is_drawn_in_the_middle_between_the_brackets() =>
        Assert.Equal(100, X("circle.ok", new LimitBar(11.9, 12.1, 12, null, Mark.Conforms)), 6);

    [Theory]
    [InlineData(11.9, 60)]
    [InlineData(12.1, 140)]
    public void A_value_on_its_limit_is_drawn_on_the_bracket(double value, double x) =>
        Assert.Equal(x, X("circle.ok", new LimitBar(11.9, 12.1, value, null, Mark.Conforms)), 6);

    [Fact]
    public void A_form_tolerance_is_drawn_from_zero() =>
        Assert.Equal(100, X("circle.ok", new LimitBar(null, 0.6, 0.3, null, Mark.Conforms)), 6);

    [Fact]
    public void A_value_off_the_scale_is_drawn_at_its_end_with_an_arrow_outwards()
    {
        var over = Drawn.Of(new LimitBar(639, 641, 652.3, 0.1, Mark.DoesNotConform));
        Assert.StartsWith("M193 7L198 11", over.QuerySelector("path.no.line")!.GetAttribute("d"));
        var under = Drawn.Of(new LimitBar(639, 641, 600, 0.1, Mark.DoesNotConform));
        Assert.StartsWith("M7 7L2 11", under.QuerySelector("path.no.line")!.GetAttribute("d"));
    }

    [Fact]
    public void The_whisker_reaches_as_far_as_the_uncertainty()
    {
        // A zone of 0.2 is 80 wide, so ±0.02 is ±8 about 100.
        var bar = Drawn.Of(new LimitBar(11.9, 12.1, 12, 0.02, Mark.Conforms));
        Assert.StartsWith("M92 11H108", bar.QuerySelector("path.ok.line")!.GetAttribute("d"));
    }

    [Theory]
    [InlineData(Mark.Conforms, "circle.ok")]
    [InlineData(Mark.NotProven, "circle.np")]
    [InlineData(Mark.DoesNotConform, "path.no")]
    public void Each_verdict_has_a_shape_of_its_own(Mark mark, string shape) =>
        Assert.Single(Drawn.Of(new LimitBar(0, 1, 0.5, null, mark)).QuerySelectorAll("circle.ok, circle.np, path.no"), e => e.Matches(shape));

    [Theory]
    [InlineData(11.9, 12.1, 12.15, 0.02, Mark.DoesNotConform, "12.15 ± 0.02 mm; limits 11.9 to 12.1 mm, 0.05 mm over: does not conform")]
    [InlineData(11.9, 12.1, 11.8, null, Mark.DoesNotConform, "11.8 mm; limits 11.9 to 12.1 mm, 0.1 mm under: does not conform")]
    [InlineData(null, 0.6, 0.31, null, Mark.Conforms, "0.31 mm; limit at most 0.6 mm: conforms")]
    [InlineData(60.0, null, 60.5, 1.0, Mark.NotProven, "60.5 ± 1 mm; limit at least 60 mm: not proven")]
    [InlineData(null, 0.2, null, null, Mark.None, "not measured; limit at most 0.2 mm")]
    public void The_words_say_what_the_picture_shows(double? lower, double? upper, double? value, double? uncertainty, Mark mark, string words)
    {
        var picture = Drawn.Of(new LimitBar(lower, upper, value, uncertainty, mark, "mm"));
        Assert.Equal("img", picture.GetAttribute("role"));
        Assert.Equal(words, picture.GetAttribute("aria-label"));
    }

    [Theory]
    [InlineData(5.0, 5.0, 5.0)]
    [InlineData(null, 0.0, 0.0)]
    [InlineData(0.0, null, 0.0)]
    [InlineData(null, null, 7.0)]
    [InlineData(null, -2.0, -3.0)]
    public void A_zone_without_a_width_of_its_own_still_draws_finite_numbers(double? lower, double? upper, double value) =>
        Assert.InRange(X("circle.ok", new LimitBar(lower, upper, value, null, Mark.Conforms)), 0, LimitBar.Width);

    [Fact]
    public void Words_from_outside_cannot_break_out_of_the_picture()
    {
        var picture = Drawn.Of(new LimitBar(0, 1, 0.5, null, Mark.Conforms, "\"><script>alert(1)</script>"));
        Assert.Empty(picture.Owner!.QuerySelectorAll("script"));
        Assert.Contains("<script>", picture.GetAttribute("aria-label"));
    }
}
