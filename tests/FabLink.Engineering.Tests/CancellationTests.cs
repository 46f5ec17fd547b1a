using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Geometry;
using FabLink.Engineering.Tests.BoltUp;
using FabLink.Engineering.Tests.Geometry;

namespace FabLink.Engineering.Tests;

/// <summary>What may take long stops when it is told to.</summary>
public class CancellationTests
{
    private static readonly CancellationToken Ended = new(canceled: true);

    [Theory]
    [InlineData("line", FeatureCalculation.MinimumZoneMethod)]
    [InlineData("circle", FeatureCalculation.MinimumZoneMethod)]
    [InlineData("plane", FeatureCalculation.MinimumZoneMethod)]
    [InlineData("cylinder", FeatureCalculation.LeastSquaresMethod)]
    public void A_fit_ends_early(string kind, string method)
    {
        IReadOnlyList<double>[] points = kind switch
        {
            "line" or "circle" => [.. Shapes.Circle(1, 30).Select(p => (double[])[p.X, p.Y])],
            "plane" => [.. Shapes.Plane(1, 30).Select(p => (double[])[p.X, p.Y, p.Z])],
            _ => [.. Shapes.Cylinder(1, 30).Select(p => (double[])[p.X, p.Y, p.Z])],
        };

        Assert.Throws<OperationCanceledException>(() => FeatureCalculation.Run(new FeatureRequest(kind, method, points), Ended));
    }

    [Fact]
    public void A_certified_solve_ends_early()
    {
        var joint = Joints.Of(Joints.Round("1", 0, 0, 0, 0), Joints.Round("2", 100, 0, 104, 0));

        Assert.Throws<OperationCanceledException>(() => PlanarBoltUp.Solve(joint, Ended));
    }

    [Fact]
    public void The_search_for_advice_ends_early()
    {
        var joint = Joints.Of(Joints.Round("1", 0, 0, 0, 0), Joints.Round("2", 100, 0, 104, 0));
        var solution = PlanarBoltUp.Solve(joint);

        Assert.NotEmpty(new Advisor(joint, 0.1, JointSide.B, 1).For(solution));
        Assert.Throws<OperationCanceledException>(() => new Advisor(joint, 0.1, JointSide.B, 1, Ended).For(solution));
    }
}
