using System.Text.Json;
using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class BoltUpCalculationTests
{
    [Fact]
    public void The_question_of_one_hole_gets_the_agreed_answer()
    {
        var request = Read("""
            {"unit":"mm","holes":[{"name":"1","a":{"x":0,"y":0,"diameter":13.5},"b":{"x":0.4,"y":0,"diameter":13.5},"fastener":12,"kind":"floating"}],
             "film":{"a":0,"b":0},"rotationLimitDegrees":180}
            """);
        using var answer = JsonDocument.Parse(JsonSerializer.Serialize(BoltUpCalculation.Answer(request), JsonSerializerOptions.Web));
        var root = answer.RootElement;
        Assert.True(root.GetProperty("boltsUp").GetBoolean());
        Assert.Equal(1.5, root.GetProperty("margin").GetDouble(), 9);
        Assert.Equal(1.5, root.GetProperty("upperBound").GetDouble(), 9);
        Assert.Equal(-0.4, root.GetProperty("move").GetProperty("x").GetDouble(), 9);
        Assert.Equal(0, root.GetProperty("move").GetProperty("y").GetDouble(), 9);
        Assert.Equal(0, root.GetProperty("move").GetProperty("rotationDegrees").GetDouble(), 9);
        Assert.Equal("1", root.GetProperty("limiting")[0].GetString());
        Assert.Equal(1.5, root.GetProperty("holes")[0].GetProperty("clearanceLeft").GetDouble(), 9);
        Assert.Equal(JsonValueKind.Null, root.GetProperty("probability").ValueKind);
        Assert.Equal(0, root.GetProperty("advice").GetArrayLength());
        Assert.True(root.GetProperty("certificate").GetProperty("intervals").GetArrayLength() > 0);
        Assert.True(root.GetProperty("sources").GetArrayLength() > 0);
        Assert.True(root.GetProperty("cautions").GetArrayLength() > 0);
    }

    [Fact]
    public void An_answer_in_inches_is_the_answer_in_millimetres_divided_by_25_4()
    {
        var mm = BoltUpCalculation.Answer(Cradle.Request);
        var inch = BoltUpCalculation.Answer(Cradle.Request with
        {
            Unit = "in",
            Holes = [.. Cradle.Request.Holes!.Select(hole => hole! with { Fastener = hole.Fastener / 25.4, A = Inches(hole.A!), B = Inches(hole.B!) })],
        });
        Assert.Equal(mm.Margin, inch.Margin * 25.4, 1e-6);
        Assert.Equal(mm.WantedMargin, inch.WantedMargin * 25.4, 9);
        Assert.InRange(inch.UpperBound - inch.Margin, 0, 1e-6 / 25.4);

        static BoltUpSide Inches(BoltUpSide side) => side with { X = side.X / 25.4, Y = side.Y / 25.4, Diameter = side.Diameter / 25.4, Uncertainty = side.Uncertainty / 25.4 };
    }

    [Fact]
    public void Samples_ask_for_the_probability_and_the_seed_is_reported()
    {
        var answer = BoltUpCalculation.Answer(Cradle.Request with { Samples = 500, Seed = 42 });
        Assert.Equal((500, 42L), (answer.Probability!.Samples, answer.Probability.Seed));
        Assert.InRange(answer.Probability.Value, 0, 0.1);
    }

    [Theory]
    [InlineData("""{"holes":[]}""", "holes")]
    [InlineData("""{}""", "holes")]
    [InlineData("""{"holes":[null]}""", "holes/0")]
    [InlineData("""{"unit":"cm","holes":[{"name":"1"}]}""", "unit")]
    [InlineData("""{"holes":[{"name":"1","fastener":12,"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/a")]
    [InlineData("""{"holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0},"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/a/diameter")]
    [InlineData("""{"holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"y":0,"diameter":13}}]}""", "holes/0/b/x")]
    [InlineData("""{"holes":[{"name":"1","a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/fastener")]
    [InlineData("""{"holes":[{"name":"1","kind":"glued","fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/kind")]
    [InlineData("""{"holes":[{"fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/name")]
    [InlineData("""{"holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0,"diameter":13,"slot":{"travel":3}},"b":{"x":0,"y":0,"diameter":13}}]}""", "holes/0/a/slot/angleDegrees")]
    [InlineData("""{"adjust":"c","holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "adjust")]
    [InlineData("""{"wantedMargin":-1,"holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "wantedMargin")]
    [InlineData("""{"rotationLimitDegrees":200,"holes":[{"name":"1","fastener":12,"a":{"x":0,"y":0,"diameter":13},"b":{"x":0,"y":0,"diameter":13}}]}""", "rotationLimitDegrees")]
    public void A_question_with_a_fault_names_the_field(string json, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => BoltUpCalculation.Answer(Read(json))).Field);

    [Fact]
    public void A_stud_needs_no_diameter_on_its_own_side()
    {
        var request = Read("""{"holes":[{"name":"1","kind":"stud","fastener":12,"a":{"x":0,"y":0},"b":{"x":0,"y":0,"diameter":13}}],"film":{"a":0.08}}""");
        var answer = BoltUpCalculation.Answer(request);
        Assert.Equal(0.5, answer.Margin, 9);
        Assert.Contains(answer.Cautions, caution => caution.Contains("four times the film", StringComparison.Ordinal));
    }

    private static BoltUpRequest Read(string json) => JsonSerializer.Deserialize<BoltUpRequest>(json, JsonSerializerOptions.Web)!;
}
