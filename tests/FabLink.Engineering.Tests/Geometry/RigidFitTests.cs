using FabLink.Engineering.Geometry;
using MathNet.Numerics.LinearAlgebra.Double;

namespace FabLink.Engineering.Tests.Geometry;

public class RigidFitTests
{

    private static Vector2D[] Plate(int seed, int count = 8) => [.. Enumerable.Range(0, count).Select(i => Point(seed, i))];

    private static Vector2D Point(int seed, int i)
    {
        var random = new Random((seed * 1000) + i);
        return new Vector2D(300 * random.NextDouble(), 200 * random.NextDouble());
    }

    private static Vector3D[] Block(int seed, int count = 8) => [.. Enumerable.Range(0, count).Select(i =>
    {
        var random = new Random((seed * 1000) + i);
        return new Vector3D(300 * random.NextDouble(), 200 * random.NextDouble(), 100 * random.NextDouble());
    })];

    private static T[] Noisy<T>(T[] points, int seed, Func<T, Func<double>, T> add)
    {
        var random = new Random(seed);
        return [.. points.Select(p => add(p, () => 0.1 * (random.NextDouble() - 0.5)))];
    }

    [Fact]
    public void A_pattern_that_was_only_moved_comes_back_exactly()
    {
        for (var seed = 1; seed <= 30; seed++)
        {
            var plate = Plate(seed);
            var flat = RigidFit.Match(plate, plate.Turned(0.1 * seed).Moved(new Vector2D(1e4, -2e4)));
            Assert.Equal(0, Math.IEEERemainder(flat.Angle - (0.1 * seed), 2 * Math.PI), 1e-12);
            Assert.Equal(0, flat.RootMeanSquare, 1e-9);
            Assert.Equal(1, flat.Scale, 12);
            Assert.Empty(flat.Cautions);

            var block = Block(seed);
            var axis = Shapes.Direction(new Random(seed));
            var to = block.Turned(axis, 0.2 * seed).Moved(new Vector3D(1e4, 2e4, -1e4));
            var solid = RigidFit.Match(block, to);
            Assert.Equal(0, solid.RootMeanSquare, 1e-9);
            Assert.Equal(0, (solid.Apply(block[3]) - to[3]).Length, 1e-9);
            Assert.Equal(1, solid.Row1.Dot(solid.Row2.Cross(solid.Row3)), 12);
        }
    }

    [Fact]
    public void No_small_turn_leaves_a_smaller_sum_of_squares()
    {
        var from = Plate(3);
        var to = Noisy(from.Turned(0.3), 5, (p, r) => p + new Vector2D(r(), r()));
        var fit = RigidFit.Match(from, to);
        double Sum(RigidFit2 f) => from.Zip(to).Sum(x => (x.Second - f.Apply(x.First)).LengthSquared);

        Assert.Equal(Sum(fit), fit.Residuals.Sum(r => r.LengthSquared), 9);
        foreach (var d in (double[])[-1e-6, 1e-6])
        {
            Assert.True(Sum(fit with { Angle = fit.Angle + d }) > Sum(fit));
            Assert.True(Sum(fit with { ToCentre = fit.ToCentre + new Vector2D(1e3 * d, 0) }) > Sum(fit));
        }
    }

    /// <summary>Second method: singular values of the correlation (K. S. Arun, T. S. Huang, S. D. Blostein, IEEE PAMI 9, 1987) by Math.NET.</summary>
    [Fact]
    public void In_space_the_rotation_is_the_one_of_the_singular_value_decomposition()
    {
        for (var seed = 1; seed <= 50; seed++)
        {
            var from = Block(seed, 5);
            var axis = Shapes.Direction(new Random(seed));
            var to = Noisy(from.Turned(axis, seed), seed, (p, r) => p + (20 * new Vector3D(r(), r(), r())));
            var fit = RigidFit.Match(from, to);

            var h = new DenseMatrix(3, 3);
            for (var i = 0; i < from.Length; i++)
            {
                var (p, q) = (from[i] - fit.FromCentre, to[i] - fit.ToCentre);
                h += (DenseMatrix)DenseVector.OfArray([p.X, p.Y, p.Z]).OuterProduct(DenseVector.OfArray([q.X, q.Y, q.Z]));
            }
            var svd = h.Svd();
            var v = svd.VT.Transpose();
            var sign = Math.Sign((v * svd.U.Transpose()).Determinant());
            var rotation = v * DenseMatrix.OfDiagonalArray([1, 1, sign]) * svd.U.Transpose();
            Assert.Equal(rotation[0, 0], fit.Row1.X, 9);
            Assert.Equal(rotation[0, 2], fit.Row1.Z, 9);
            Assert.Equal(rotation[1, 0], fit.Row2.X, 9);
            Assert.Equal(rotation[2, 1], fit.Row3.Y, 9);
        }
    }

    [Fact]
    public void Inches_taken_for_millimetres_show_in_the_scale()
    {
        var fit = RigidFit.Match(Plate(1), Plate(1).Scaled(25.4));

        Assert.Equal(25.4, fit.Scale, 9);
        Assert.Contains(fit.Cautions, c => c.Contains("inches", StringComparison.Ordinal));
        Assert.Equal(0, RigidFit.Match(Plate(1), Plate(1).Scaled(25.4), fitScale: true).RootMeanSquare, 1e-9);
        Assert.True(fit.RootMeanSquare > 100);
    }

    [Fact]
    public void A_left_hand_part_measured_against_a_right_hand_drawing_is_suspected_and_never_mirrored()
    {
        var flat = RigidFit.Match(Plate(2), [.. Plate(2).Select(p => new Vector2D(-p.X, p.Y))]);
        var solid = RigidFit.Match(Block(2), [.. Block(2).Select(p => new Vector3D(-p.X, p.Y, p.Z))]);

        Assert.Contains(flat.Cautions, c => c.Contains("mirrored", StringComparison.Ordinal));
        Assert.Contains(solid.Cautions, c => c.Contains("mirrored", StringComparison.Ordinal));
        Assert.Equal(1, solid.Row1.Dot(solid.Row2.Cross(solid.Row3)), 12);
    }

    [Fact]
    public void Sets_that_fix_no_rotation_are_refused()
    {
        Assert.Equal("to", Assert.Throws<InputError>(() => RigidFit.Match(Plate(1, 3), Plate(1, 4))).Field);
        Assert.Equal("from/points", Assert.Throws<InputError>(() => RigidFit.Match([new Vector2D(1, 1), new(1, 1)], Plate(1, 2))).Field);
        Assert.Equal("to/points/1", Assert.Throws<InputError>(() => RigidFit.Match(Plate(1, 2), [new Vector2D(1, 1), new(1, double.NaN)])).Field);
        Assert.Equal("from/points", Assert.Throws<InputError>(() => RigidFit.Match([new(0, 0, 0), new(1, 1, 1), new(2, 2, 2)], Block(1, 3))).Field);
    }

    [Fact]
    public void An_offset_of_a_million_changes_no_residual()
    {
        var from = Plate(4).OnGrid();
        var to = Noisy(Plate(4).Turned(0.2), 9, (p, r) => p + new Vector2D(r(), r())).OnGrid();
        var near = RigidFit.Match(from, to);
        var far = RigidFit.Match(from.Moved(new Vector2D(1e6, 1e6)), to.Moved(new Vector2D(-1e6, 1e6)));

        Assert.All(near.Residuals.Zip(far.Residuals), r => Assert.Equal(0, (r.First - r.Second).Length, 1e-9));
    }
}
