using FabLink.Engineering;
using FabLink.Portal.Features.Drawings;

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
    [InlineData("turn of pad, reach 640", LocatedRole.Turn)]
    public void What_it_gives_of_the_hole_is_read(string text, LocatedRole role) => Assert.Equal(role, Locates.Parse(text).Role);

    // 1 in = 25.4 mm exactly (ISO 31-1, common practice).
    [Theory]
    [InlineData("a/1 diameter, fastener 0.5 in", 12.7)]
    [InlineData("a/1 diameter, fastener 16", 16)]
    [InlineData("a/1 diameter, M6.5", 6.5)]
    public void A_fastener_is_its_major_diameter_in_millimetres(string text, double fastener) => Assert.Equal(fastener, Locates.Parse(text).Fastener!.Value, 1e-12);

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
}
