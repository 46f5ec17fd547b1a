using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

public class LeastSquaresTests
{
    // Points of W. Gander, G. H. Golub, R. Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994), example 4.
    private static readonly Vector2D[] Gander = [new(1, 7), new(2, 6), new(5, 8), new(7, 7), new(9, 5), new(3, 7)];

    // Points of K. Pearson, On lines and planes of closest fit, Philosophical Magazine 2 (1901).
    internal static readonly Vector2D[] Pearson =
    [
        new(0, 5.9), new(0.9, 5.4), new(1.8, 4.4), new(2.6, 4.6), new(3.3, 3.5),
        new(4.4, 3.7), new(5.2, 2.8), new(6.1, 2.8), new(6.5, 2.4), new(7.4, 1.5),
    ];

    // Constructed: 3 × 3 points at 100 mm pitch, heights in micrometres.
    internal static readonly Vector3D[] NineHeights =
    [
        new(0, 0, 0), new(100, 0, 0.004), new(200, 0, 0.006),
        new(0, 100, -0.005), new(100, 100, 0.020), new(200, 100, -0.009),
        new(0, 200, -0.010), new(100, 200, -0.003), new(200, 200, 0.008),
    ];

    [Fact]
    public void The_circle_of_Gander_Golub_and_Strebel_has_its_published_centre_and_radius()
    {
        var circle = LeastSquares.Circle(Gander);

        // Gander, Golub, Strebel, BIT 34 (1994): geometric solution 4.7398, 2.9835, 4.7142 (from memory).
        Assert.Equal(4.7398, circle.Centre.X, 4);
        Assert.Equal(2.9835, circle.Centre.Y, 4);
        Assert.Equal(4.7142, circle.Radius, 4);
        // Further digits: computed by a second method.
        Assert.Equal(4.739782, circle.Centre.X, 6);
        Assert.Equal(2.983533, circle.Centre.Y, 6);
        Assert.Equal(4.714226, circle.Radius, 6);
        Assert.Equal(1.227599, circle.SumOfSquares, 6);
    }

    [Fact]
    public void The_circle_is_the_geometric_one_and_not_the_algebraic_one()
    {
        // The algebraic least squares circle of the same points, (4.742331, 3.835123) with r 4.108762: a wrong answer here.
        var circle = LeastSquares.Circle(Gander);

        Assert.True(Math.Abs(circle.Radius - 4.108762) > 0.5);
        Assert.True(Math.Abs(circle.Centre.Y - 3.835123) > 0.5);
    }

    [Fact]
    public void The_line_of_Pearson_has_its_published_slope_and_intercept()
    {
        var line = LeastSquares.Line(Pearson);
        var slope = line.Direction.Y / line.Direction.X;

        // Pearson (1901): y = 5.784 - 0.5456 x (from memory); further digits computed by a second method.
        Assert.Equal(-0.5456, slope, 4);
        Assert.Equal(-0.545561, slope, 6);
        Assert.Equal(5.784, line.Point.Y - (slope * line.Point.X), 3);
        Assert.Equal(5.78404, line.Point.Y - (slope * line.Point.X), 5);
        Assert.Equal(0.618573, line.SumOfSquares, 6);
        Assert.Equal(0.726489, line.Form, 6);
    }

    [Fact]
    public void The_line_is_neither_regression_of_y_on_x_nor_of_x_on_y()
    {
        var line = LeastSquares.Line(Pearson);
        var slope = line.Direction.Y / line.Direction.X;

        // The two ordinary regressions of Pearson's points, -0.539577 and -0.565889: wrong answers here.
        Assert.NotEqual(-0.539577, slope, 3);
        Assert.NotEqual(-0.565889, slope, 3);
    }

    [Fact]
    public void Nine_heights_have_the_flatness_computed_for_them()
    {
        // Constructed set, computed by two methods: least squares flatness 32.3333 µm.
        Assert.Equal(0.0323333, LeastSquares.Plane(NineHeights).Form, 6);
    }

    [Fact]
    public void A_saddle_is_as_flat_as_twice_its_height()
    {
        // Analytic: by symmetry the plane is z = 0.
        var plane = LeastSquares.Plane([new(1, 1, 0.01), new(-1, -1, 0.01), new(1, -1, -0.01), new(-1, 1, -0.01)]);

        Assert.Equal(0.02, plane.Form, 12);
        Assert.Equal(1, plane.Normal.Z, 12);
    }

    [Fact]
    public void Eight_lobes_of_five_micrometres_are_ten_micrometres_out_of_round()
    {
        var circle = LeastSquares.Circle(Lobed());

        // Analytic: centre 0, radius 10, roundness 0.010.
        Assert.Equal(0, circle.Centre.Length, 12);
        Assert.Equal(10, circle.Radius, 12);
        Assert.Equal(0.010, circle.Form, 12);
    }

    internal static Vector2D[] Lobed() => [.. Enumerable.Range(0, 8).Select(i =>
    {
        var (sin, cos) = Math.SinCos(i * Math.PI / 4);
        var r = i % 2 == 0 ? 10.005 : 9.995;
        return new Vector2D(r * cos, r * sin);
    })];

    [Fact]
    public void A_line_in_space_is_held_by_the_cylinder_of_its_farthest_point()
    {
        // Analytic: four points alternately 0.1 off the x axis in y and z cancel; the axis stays.
        var line = LeastSquares.Line([new Vector3D(0, 0.1, 0), new(10, -0.1, 0), new(20, -0.1, 0), new(30, 0.1, 0)]);

        Assert.Equal(1, line.Direction.X, 12);
        Assert.Equal(0.2, line.Form, 12);
        Assert.Equal(0.04, line.SumOfSquares, 12);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Exact_points_give_back_their_sphere_and_cylinder(int seed)
    {
        var random = new Random(seed);
        var (axis, angle) = (Shapes.Direction(random), 3 * random.NextDouble());
        var by = new Vector3D(100, -200, 300);

        var sphere = LeastSquares.Sphere(Shapes.Sphere(seed, 20, noise: 0).Moved(by));
        Assert.Equal(30, sphere.Radius, 10);
        Assert.Equal(0, (sphere.Centre - by - new Vector3D(5, 6, 7)).Length, 10);
        Assert.Equal(0, sphere.Form, 10);

        var cylinder = LeastSquares.Cylinder(Shapes.Cylinder(seed, 30, noise: 0).Turned(axis, angle).Moved(by));
        Assert.Equal(20, cylinder.Radius, 9);
        Assert.Equal(1, Math.Abs(cylinder.Direction.Dot(new Vector3D(0, 0, 1).Turned(axis, angle))), 12);
        Assert.Equal(0, cylinder.Form, 9);
    }

    /// <summary>Independent of the derivatives used inside: the sum of squares rises whichever parameter is moved either way.</summary>
    [Theory]
    [InlineData(11, 80, 6.28)]
    [InlineData(12, 10, 6.28)]
    [InlineData(13, 200, 1.5)]
    [InlineData(14, 5, 3.0)]
    public void No_small_change_of_a_cylinder_makes_it_fit_better(int seed, double length, double arc)
    {
        var points = Shapes.Cylinder(seed, 60, noise: 0.5, length: length, arc: arc);
        var fit = LeastSquares.Cylinder(points);
        double Sum(Vector3D at, Vector3D along, double r) =>
            points.Sum(p => Math.Pow(along.Cross(p - at).Length - r, 2));

        Assert.Equal(fit.SumOfSquares, Sum(fit.Point, fit.Direction, fit.Radius), 9);
        var u = fit.Direction.Cross(new Vector3D(0.3, 0.5, -0.7)).Unit();
        foreach (var side in (Vector3D[])[u, -u, fit.Direction.Cross(u), -fit.Direction.Cross(u)])
        {
            Assert.True(Sum(fit.Point + (1e-4 * side), fit.Direction, fit.Radius) > fit.SumOfSquares);
            Assert.True(Sum(fit.Point, (fit.Direction + (1e-5 * side)).Unit(), fit.Radius) > fit.SumOfSquares);
        }
        Assert.True(Sum(fit.Point, fit.Direction, fit.Radius + 1e-4) > fit.SumOfSquares);
        Assert.True(Sum(fit.Point, fit.Direction, fit.Radius - 1e-4) > fit.SumOfSquares);
    }

    [Fact]
    public void Fits_allocate_nothing_per_point()
    {
        var few = Shapes.Plane(1, 100);
        var many = Shapes.Plane(1, 100_000);
        var circle = Shapes.Circle(1, 100);
        var circles = Shapes.Circle(1, 100_000);
        static long Bytes(Action work)
        {
            work();
            var before = GC.GetAllocatedBytesForCurrentThread();
            work();
            return GC.GetAllocatedBytesForCurrentThread() - before;
        }

        Assert.Equal(Bytes(() => LeastSquares.Plane(few)), Bytes(() => LeastSquares.Plane(many)));
        Assert.Equal(Bytes(() => LeastSquares.Circle(circle)), Bytes(() => LeastSquares.Circle(circles)));
    }
}
