using System.Text.Json;
using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

public class FeatureCalculationTests
{
    private static FeatureAnswer Run(string body) =>
        FeatureCalculation.Run(JsonSerializer.Deserialize<FeatureRequest>(body, JsonSerializerOptions.Web)!);

    [Fact]
    public void A_circle_is_answered_with_centre_radius_form_and_where_it_comes_from()
    {
        var answer = Run("""{"kind":"circle","method":"least-squares","points":[[1,7],[2,6],[5,8],[7,7],[9,5],[3,7]]}""");

        // Gander, Golub, Strebel, BIT 34 (1994): 4.7398, 2.9835, 4.7142 (from memory).
        Assert.Equal(4.7398, answer.Centre[0], 4);
        Assert.Equal(2.9835, answer.Centre[1], 4);
        Assert.Equal(4.7142, answer.Radius!.Value, 4);
        Assert.Equal(answer.Residuals.Max() - answer.Residuals.Min(), answer.Form, 12);
        Assert.Null(answer.LowerBound);
        Assert.NotEmpty(answer.Sources);
        Assert.NotEmpty(answer.Cautions);
    }

    [Fact]
    public void The_examples_in_the_documentation_are_true() =>
        Assert.Equal(3, DocumentedExamples.Check("geometry.md", (_, question) => Run(question)));

    [Theory]
    [InlineData("line", "least-squares", 2)]
    [InlineData("line", "minimum-zone", 2)]
    [InlineData("line", "least-squares", 3)]
    [InlineData("plane", "least-squares", 3)]
    [InlineData("plane", "minimum-zone", 3)]
    [InlineData("circle", "least-squares", 2)]
    [InlineData("circle", "minimum-zone", 2)]
    [InlineData("sphere", "least-squares", 3)]
    [InlineData("cylinder", "least-squares", 3)]
    public void Every_kind_and_method_answers_with_a_form_that_its_residuals_span(string kind, string method, int dimension)
    {
        double[][] points = (kind, dimension) switch
        {
            ("line", 2) => [.. Shapes.Line(3, 20).Select(p => (double[])[p.X, p.Y])],
            ("line", _) => [.. Shapes.Line(3, 20).Select(p => (double[])[p.X, p.Y, 0])],
            ("circle", _) => [.. Shapes.Circle(3, 20).Select(p => (double[])[p.X, p.Y])],
            ("plane", _) => [.. Shapes.Plane(3, 20).Select(p => (double[])[p.X, p.Y, p.Z])],
            ("sphere", _) => [.. Shapes.Sphere(3, 20).Select(p => (double[])[p.X, p.Y, p.Z])],
            _ => [.. Shapes.Cylinder(3, 20).Select(p => (double[])[p.X, p.Y, p.Z])],
        };
        var answer = FeatureCalculation.Run(new FeatureRequest(kind, method, points));

        var span = kind == "line" && dimension == 3 ? 2 * answer.Residuals.Max() : answer.Residuals.Max() - answer.Residuals.Min();
        Assert.Equal(span, answer.Form, 9);
        Assert.Equal(20, answer.Count);
        Assert.Equal(method == "minimum-zone", answer.LowerBound is not null);
        if (answer.Active is not { } active)
            return;
        Assert.Equal(answer.Form, answer.LowerBound!.Value, 1e-9);
        foreach (var point in active)
        {
            var extreme = point.Side is "upper" or "outer" ? answer.Residuals.Max() : answer.Residuals.Min();
            Assert.Equal(extreme, answer.Residuals[point.Index], 1e-9);
        }
    }

    [Fact]
    public void The_number_of_points_that_always_fit_is_pointed_out() =>
        Assert.Contains(
            Run("""{"kind":"plane","method":"least-squares","points":[[0,0,0],[1,0,0],[0,1,0]]}""").Cautions,
            c => c.Contains("always fit", StringComparison.Ordinal));

    [Theory]
    [InlineData("""{"kind":"cone","method":"least-squares","points":[[0,0]]}""", "kind")]
    [InlineData("""{"method":"least-squares","points":[[0,0]]}""", "kind")]
    [InlineData("""{"kind":"circle","method":"best","points":[[0,0]]}""", "method")]
    [InlineData("""{"kind":"sphere","method":"minimum-zone","points":[[0,0,0]]}""", "method")]
    [InlineData("""{"kind":"line","method":"minimum-zone","points":[[0,0,0],[1,1,1]]}""", "method")]
    [InlineData("""{"kind":"circle","method":"least-squares"}""", "points")]
    [InlineData("""{"kind":"circle","method":"least-squares","points":[]}""", "points")]
    [InlineData("""{"kind":"circle","method":"least-squares","points":[[0,0],[1,1,1],[2,0]]}""", "points/1")]
    [InlineData("""{"kind":"circle","method":"least-squares","points":[[0,0],null,[2,0]]}""", "points/1")]
    [InlineData("""{"kind":"circle","method":"minimum-zone","points":[[0,0],[1,1],[2,2]]}""", "points")]
    public void A_question_that_cannot_be_answered_names_its_field(string body, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => Run(body)).Field);

    [Fact]
    public void Not_a_number_names_the_point_and_the_coordinate() =>
        Assert.Equal("points/1/0", Assert.Throws<InputError>(
            () => FeatureCalculation.Run(new FeatureRequest("circle", "least-squares", [[0, 0], [double.NaN, 1], [2, 0]]))).Field);
}
