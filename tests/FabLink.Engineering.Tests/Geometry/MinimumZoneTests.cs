using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

public class MinimumZoneTests
{
    [Fact]
    public void The_points_of_Pearson_lie_between_parallels_three_tenths_of_root_five_apart()
    {
        var zone = MinimumZone.Straightness(LeastSquaresTests.Pearson);

        // Computed by two methods from Pearson's points: 0.670820 = 0.3·√5, slope -0.5, points 1 and 6 on one side.
        Assert.Equal(0.3 * Math.Sqrt(5), zone.Width, 12);
        Assert.Equal(-0.5, zone.Direction.Y / zone.Direction.X, 12);
        var pair = zone.Active.GroupBy(a => a.Side).Single(g => g.Count() == 2);
        Assert.Equal([0, 5], pair.Select(a => a.Index).Order());
        Assert.Equal(zone.Width, zone.LowerBound, 12);
    }

    [Fact]
    public void Nine_heights_are_flat_within_27_micrometres()
    {
        var zone = MinimumZone.Flatness(LeastSquaresTests.NineHeights);

        // Constructed set, computed by two methods: 27.0000 µm, normal along (2e-5, 5e-5, 1).
        Assert.Equal(0.027, zone.Width, 8);
        Assert.Equal(2e-5, zone.Normal.X / zone.Normal.Z, 9);
        Assert.Equal(5e-5, zone.Normal.Y / zone.Normal.Z, 9);
        Assert.Equal(zone.Width, zone.LowerBound, 11);
    }

    [Fact]
    public void A_saddle_is_no_flatter_than_by_least_squares()
    {
        // Analytic: 0.02 for both methods, plane z = 0; two points on each side.
        var zone = MinimumZone.Flatness([new(1, 1, 0.01), new(-1, -1, 0.01), new(1, -1, -0.01), new(-1, 1, -0.01)]);

        Assert.Equal(0.02, zone.Width, 12);
        Assert.Equal(1, zone.Normal.Z, 12);
        Assert.Equal(4, zone.Active.Count);
        Assert.All(zone.Active, a => Assert.Equal(0.5, a.Weight, 9));
    }

    [Fact]
    public void Eight_lobes_are_ten_micrometres_out_of_round_and_no_centre_does_better()
    {
        // Analytic: centre 0, roundness 0.010.
        var points = LeastSquaresTests.Lobed();
        var zone = MinimumZone.Circularity(points);

        Assert.Equal(0.010, zone.Width, 10);
        Assert.Equal(0, zone.Centre.Length, 9);
        Assert.Equal(0.010, zone.LowerBound, 9);
        Assert.True(ProofCheck.Circularity(points, zone.Proof) >= zone.LowerBound - 1e-9);
    }

    public static TheoryData<string, int> Families => new()
    {
        { "thin", 1 }, { "thin", 2 }, { "fat", 3 }, { "fat", 4 }, { "lattice", 5 }, { "lattice", 6 },
    };

    [Theory]
    [MemberData(nameof(Families))]
    public void Exhaustive_search_never_finds_a_narrower_strip(string family, int seed)
    {
        var random = new Random(seed);
        for (var k = 0; k < 400; k++)
        {
            var points = Planar(random, family, 3 + random.Next(6));
            if (Distinct(points) < 2)
                continue;
            var zone = MinimumZone.Straightness(points);
            var oracle = Oracles.Straightness(points);

            Assert.Equal(oracle, zone.Width, 1e-9);
            Assert.True(zone.LowerBound <= oracle + 1e-9 && zone.Width - zone.LowerBound <= 1e-9);
            if (zone.Proof.Faces.Count > 0)
                Assert.Equal(zone.LowerBound, ProofCheck.Width(points, zone.Proof), 1e-9);
            AssertBalanced(points, zone);
        }
    }

    [Theory]
    [MemberData(nameof(Families))]
    public void Exhaustive_search_never_finds_a_narrower_slab(string family, int seed)
    {
        var random = new Random(seed);
        var checkedSets = 0;
        for (var k = 0; k < 400; k++)
        {
            var points = Spatial(random, family, 4 + random.Next(5));
            if (Accepted(() => MinimumZone.Flatness(points)) is not { } zone)
                continue;
            var oracle = Oracles.Flatness(points);
            checkedSets++;

            Assert.Equal(oracle, zone.Width, 1e-9);
            Assert.True(zone.LowerBound <= oracle + 1e-9);
            if (zone.Proof.Faces.Count == 0)
                continue;
            Assert.True(zone.Width - zone.LowerBound <= 1e-9);
            Assert.True(ProofCheck.Width(points, zone.Proof) >= zone.LowerBound - 1e-9);
            AssertBalanced(points, zone);
        }
        Assert.True(checkedSets > 350);
    }

    [Theory]
    [MemberData(nameof(Families))]
    public void Exhaustive_search_never_finds_a_narrower_ring(string family, int seed)
    {
        var random = new Random(seed);
        var checkedSets = 0;
        // Lattice sets are often as good on a line, which takes long to rule out.
        var (cases, enough) = family == "lattice" ? (60, 10) : (300, 100);
        for (var k = 0; k < cases; k++)
        {
            var points = Ring(random, family, 4 + random.Next(5));
            var oracle = Oracles.Circularity(points);
            if (Accepted(() => MinimumZone.Circularity(points)) is not { } zone)
            {
                // Refused sets fit a line as well, or are no set of points for a circle at all.
                Assert.True(Oracles.Straightness(points) <= oracle * (1 + 1.1e-4) || Distinct(points) < 3);
                continue;
            }
            checkedSets++;
            Assert.Equal(oracle, zone.Width, 1e-8);
            Assert.True(zone.LowerBound <= oracle + 1e-9);
            Assert.True(zone.Width - zone.LowerBound <= 1e-9 * zone.OuterRadius, $"gap {zone.Width - zone.LowerBound}");
            if (zone.Proof.Cells.Count > 0)
                Assert.True(ProofCheck.Circularity(points, zone.Proof) >= zone.LowerBound - 1e-9);
        }
        Assert.True(checkedSets > enough, $"{checkedSets}");
    }

    [Fact]
    public void A_proof_with_a_face_left_out_or_turned_is_rejected()
    {
        var points = LeastSquaresTests.NineHeights;
        var proof = MinimumZone.Flatness(points).Proof;

        Assert.ThrowsAny<Exception>(() => ProofCheck.Width(points, proof with { Faces = [.. proof.Faces.Skip(1)] }));
        Assert.ThrowsAny<Exception>(() => ProofCheck.Width(
            points, proof with { Faces = [[.. proof.Faces[0].Reverse()], .. proof.Faces.Skip(1)] }));
    }

    [Fact]
    public void A_proof_of_roundness_with_a_square_left_out_or_a_disc_enlarged_is_rejected()
    {
        var points = Shapes.Circle(5, 30);
        var proof = MinimumZone.Circularity(points).Proof;

        Assert.NotEmpty(proof.Cells);
        Assert.ThrowsAny<Exception>(() => ProofCheck.Circularity(points, proof with { Cells = [.. proof.Cells.Skip(1)] }));
        Assert.ThrowsAny<Exception>(() => ProofCheck.Circularity(
            points, proof with { Discs = [.. proof.Discs.Select(d => d with { Radius = 1.1 * d.Radius })] }));
    }

    [Fact]
    public void Least_squares_never_reports_less_than_the_minimum_zone()
    {
        for (var seed = 1; seed <= 100; seed++)
        {
            var (line, plane, circle) = (Shapes.Line(seed, 30), Shapes.Plane(seed, 30), Shapes.Circle(seed, 30));
            Assert.True(MinimumZone.Straightness(line).Width <= LeastSquares.Line(line).Form + 1e-12);
            Assert.True(MinimumZone.Flatness(plane).Width <= LeastSquares.Plane(plane).Form + 1e-12);
            Assert.True(MinimumZone.Circularity(circle).Width <= LeastSquares.Circle(circle).Form + 1e-12);
        }
    }

    [Fact]
    public void A_full_circle_of_many_points_is_certified_to_a_nanometre()
    {
        var zone = MinimumZone.Circularity(Shapes.Circle(9, 5_000));

        Assert.InRange(zone.Width, 0.0195, 0.0200);
        Assert.True(zone.Width - zone.LowerBound <= 1e-9);
    }

    [Fact]
    public void Perfect_features_have_no_form_error()
    {
        Assert.Equal(0, MinimumZone.Straightness([new(0, 0), new(1, 1), new(2, 2)]).Width);
        Assert.Equal(0, MinimumZone.Flatness([new(0, 0, 1), new(1, 0, 1), new(0, 1, 1), new(5, 7, 1)]).Width, 12);
        Assert.Equal(0, MinimumZone.Circularity([new(1, 0), new(0, 1), new(-1, 0), new(0, -1)]).Width, 12);
    }

    [Fact]
    public void Points_on_a_line_have_no_minimum_zone_circle_or_plane()
    {
        Assert.Throws<InputError>(() => MinimumZone.Circularity([new(0, 0), new(1, 1), new(2, 2), new(3, 3)]));
        Assert.Throws<InputError>(() => MinimumZone.Flatness([new(0, 0, 0), new(1, 1, 1), new(2, 2, 2), new(3, 3, 3)]));
        Assert.Throws<InputError>(() => MinimumZone.Flatness([new(0, 0, 0), new(1, 1, 1)]));
        Assert.Throws<InputError>(() => MinimumZone.Straightness([new(1, 1), new(1, 1)]));
    }

    private static void AssertBalanced(Vector2D[] points, StraightnessZone zone)
    {
        if (zone.Active.Count == 0)
            return;
        var between = Mean(zone.Active, ZoneSide.Upper, i => points[i], (a, b) => a + b, (a, s) => a * s)
            - Mean(zone.Active, ZoneSide.Lower, i => points[i], (a, b) => a + b, (a, s) => a * s);
        Assert.Equal(zone.Width, between.Length, 1e-8);
        Assert.Equal(0, between.Dot(zone.Direction), 1e-8);
    }

    private static void AssertBalanced(Vector3D[] points, FlatnessZone zone)
    {
        var between = Mean(zone.Active, ZoneSide.Upper, i => points[i], (a, b) => a + b, (a, s) => a * s)
            - Mean(zone.Active, ZoneSide.Lower, i => points[i], (a, b) => a + b, (a, s) => a * s);
        Assert.Equal(zone.Width, between.Length, 1e-7);
        Assert.Equal(zone.Width, Math.Abs(between.Dot(zone.Normal)), 1e-7);
    }

    private static T Mean<T>(
        IReadOnlyList<ActivePoint> active, ZoneSide side, Func<int, T> at, Func<T, T, T> add, Func<T, double, T> times)
    {
        var ofSide = active.Where(a => a.Side == side).ToList();
        Assert.Equal(1, ofSide.Sum(a => a.Weight), 9);
        Assert.All(ofSide, a => Assert.True(a.Weight > 0));
        return ofSide.Select(a => times(at(a.Index), a.Weight)).Aggregate(add);
    }

    private static T? Accepted<T>(Func<T> work)
        where T : class
    {
        try
        {
            return work();
        }
        catch (InputError)
        {
            return null;
        }
    }

    private static int Distinct<T>(T[] points) => points.Distinct().Count();

    private static double Part(Random random, string family, double thin) => family switch
    {
        "thin" => thin * random.NextDouble(),
        "lattice" => random.Next(4),
        _ => random.NextDouble(),
    };

    private static Vector2D[] Planar(Random random, string family, int count) =>
        [.. Enumerable.Range(0, count).Select(_ => new Vector2D(Part(random, family, 100), Part(random, family, 0.05)))];

    private static Vector3D[] Spatial(Random random, string family, int count) =>
        [.. Enumerable.Range(0, count).Select(_ => new Vector3D(Part(random, family, 100), Part(random, family, 60), Part(random, family, 0.05)))];

    private static Vector2D[] Ring(Random random, string family, int count) => family == "thin"
        ? Shapes.Circle(random.Next(), count, radius: 1, noise: 0.01)
        : Planar(random, family, count);
}
