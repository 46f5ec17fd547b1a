using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

public class DegeneratePointsTests
{
    private static readonly Vector2D[] OnALine = [.. Enumerable.Range(0, 9).Select(i => new Vector2D(1e6 + (10 * i), -1e6 + (3 * i)))];
    private static readonly Vector3D[] OnALine3 = [.. Enumerable.Range(0, 9).Select(i => new Vector3D(10 * i, 3 * i, 1e6 - i))];
    private static readonly Vector3D[] InAPlane =
        [.. Enumerable.Range(0, 16).Select(i => new Vector3D(i % 4, i / 4, (0.25 * (i % 4)) - (0.5 * (i / 4))))];

    [Fact]
    public void Points_on_one_line_determine_no_plane_and_no_circle()
    {
        Assert.Contains("one line", Assert.Throws<InputError>(() => LeastSquares.Circle(OnALine)).Message, StringComparison.Ordinal);
        Assert.Contains("one line", Assert.Throws<InputError>(() => LeastSquares.Plane(OnALine3)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Points_in_one_plane_determine_no_sphere_and_no_cylinder()
    {
        Assert.Contains("one plane", Assert.Throws<InputError>(() => LeastSquares.Sphere(InAPlane)).Message, StringComparison.Ordinal);
        Assert.Contains("one plane", Assert.Throws<InputError>(() => LeastSquares.Cylinder(InAPlane)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Too_few_points_are_refused_with_the_number_needed()
    {
        Assert.Contains("at least 2", Assert.Throws<InputError>(() => LeastSquares.Line([new Vector2D(1, 1)])).Message, StringComparison.Ordinal);
        Assert.Contains("at least 3", Assert.Throws<InputError>(() => LeastSquares.Plane([])).Message, StringComparison.Ordinal);
        Assert.Contains("at least 3", Assert.Throws<InputError>(() => LeastSquares.Circle([new(0, 0), new(1, 1)])).Message, StringComparison.Ordinal);
        Assert.Contains("at least 4", Assert.Throws<InputError>(() => LeastSquares.Sphere(InAPlane.AsSpan(0, 3))).Message, StringComparison.Ordinal);
        Assert.Contains("at least 6", Assert.Throws<InputError>(() => LeastSquares.Cylinder(InAPlane.AsSpan(0, 5))).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void The_same_place_measured_again_is_not_another_point()
    {
        var error = Assert.Throws<InputError>(() => LeastSquares.Circle([new(0, 0), new(1, 0), new(0, 0), new(1, 0)]));

        Assert.Equal("points", error.Field);
        Assert.Contains("only 2 differ", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_coordinate_that_is_not_a_number_names_its_point()
    {
        var error = Assert.Throws<InputError>(() => LeastSquares.Plane([new(0, 0, 0), new(1, 0, 0), new(0, double.NaN, 0), new(1, 1, 1)]));
        Assert.Equal("points/2", error.Field);
        Assert.Equal("points/1", Assert.Throws<InputError>(() => LeastSquares.Line([new Vector2D(0, 0), new(double.PositiveInfinity, 0)])).Field);
    }

    [Fact]
    public void Points_that_scatter_alike_in_all_directions_determine_no_line() =>
        Assert.Throws<InputError>(() => LeastSquares.Line([new Vector2D(1, 0), new(0, 1), new(-1, 0), new(0, -1)]));

    [Fact]
    public void A_repeated_point_among_enough_others_is_allowed()
    {
        var circle = LeastSquares.Circle([new(1, 0), new(0, 1), new(-1, 0), new(0, -1), new(1, 0)]);

        Assert.Equal(1, circle.Radius, 12);
    }
}
