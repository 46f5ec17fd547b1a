using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class OracleTests
{
    [Theory]
    [InlineData(2, true, 180)]
    [InlineData(3, false, 180)]
    [InlineData(4, false, 180)]
    [InlineData(5, true, 180)]
    [InlineData(6, true, 180)]
    [InlineData(4, true, 5)]
    public void A_general_optimizer_never_beats_the_margin_nor_the_bound(int count, bool mixedSlots, double limit)
    {
        var close = 0;
        const int Cases = 350;
        Parallel.For(0, Cases, k =>
        {
            var joint = Joints.Random(new Random((7919 * count) + k), count, mixedSlots, limit);
            if (Agrees(joint, SlowOracle.ByRandomSteps(joint, k), 0.02))
                Interlocked.Increment(ref close);
        });
        // An optimizer that never comes near the margin would prove nothing.
        Assert.True(close > 0.85 * Cases, $"the general optimizer came close in {close} of {Cases} only");
    }

    [Theory]
    [InlineData(2, false, 180)]
    [InlineData(4, true, 180)]
    [InlineData(6, false, 8)]
    public void Brute_force_never_beats_the_margin_nor_the_bound(int count, bool mixedSlots, double limit)
    {
        var close = 0;
        const int Cases = 10;
        Parallel.For(0, Cases, k =>
        {
            var joint = Joints.Random(new Random((104729 * count) + k), count, mixedSlots, limit);
            if (Agrees(joint, SlowOracle.Margin(joint), 1e-4))
                Interlocked.Increment(ref close);
        });
        Assert.True(close > 0.85 * Cases, $"brute force came close in {close} of {Cases} only");
    }

    private static bool Agrees(Joint joint, double oracle, double within)
    {
        var solution = PlanarBoltUp.Solve(joint);
        Assert.InRange(solution.UpperBound - solution.Margin, -1e-9, PlanarBoltUp.PromisedGap);
        Assert.True(oracle <= solution.UpperBound + 1e-9, $"a move leaves {oracle}, above the bound {solution.UpperBound}");
        Assert.True(oracle <= solution.Margin + 1e-6, $"a move leaves {oracle}, the solver's {solution.Margin}");
        return solution.Margin - oracle < within;
    }
}
