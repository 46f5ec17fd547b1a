using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class ProbabilityTests
{
    private static readonly HoleSpread Exact = new(0, 0, 0, 0);

    // Closed form: far apart, only the spacing matters; it is off by a normal of σ = U/2 = 1.5, the play of both is 1.5: ±1σ.
    [Fact]
    public void Two_distant_holes_bolt_up_as_often_as_a_normal_stays_within_the_play()
    {
        var joint = Joints.Of(
            Joints.Round("1", 0, 0, 0, 0, 12.75),
            Spread(Joints.Round("2", 1e5, 0, 1e5, 0, 12.75), Exact with { Uncertainty = 3 }));
        var estimates = Enumerable.Range(1, 20).Select(seed => BoltUpProbability.Estimate(joint, 5000, seed)).ToArray();
        // Normal distribution: P(|z| < 1) = 0.682689.
        var covered = estimates.Count(estimate => estimate.Lower <= 0.682689 && estimate.Upper >= 0.682689);
        // A 95 % interval misses now and then; 20 of them rarely more than three times.
        Assert.InRange(covered, 17, 20);
        Assert.All(estimates, estimate => Assert.InRange(estimate.Upper - estimate.Lower, 0.02, 0.03));
    }

    [Fact]
    public void The_same_seed_gives_the_same_count_whatever_the_number_of_threads()
    {
        var joint = BoltUpCalculation.JointOf(Cradle.Request);
        joint = joint with { Holes = [.. joint.Holes.Select(hole => Spread(hole, Exact with { Uncertainty = 1 }))] };
        var alone = BoltUpProbability.Estimate(joint, 3000, 5, threads: 1);
        Assert.Equal(alone, BoltUpProbability.Estimate(joint, 3000, 5, threads: 4));
        Assert.NotEqual(alone.Value, BoltUpProbability.Estimate(joint, 3000, 6, threads: 4).Value);
    }

    // ASME Y14.5-2018 Appendix B: T = H − F on both parts is always enough.
    [Fact]
    public void A_drawing_by_the_floating_fastener_rule_always_bolts_up()
    {
        var holes = Enumerable.Range(0, 6).Select(i => Joints.Round($"{i}", 100 * i, 70 * (i % 2), 100 * i, 70 * (i % 2)))
            .Select(hole => hole with { A = hole.A with { Spread = Exact with { PositionTolerance = 1.5 } } })
            .Select(hole => Spread(hole, Exact with { PositionTolerance = 1.5 }));
        var estimate = BoltUpProbability.Estimate(new Joint([.. holes], 0, 0, 180), 5000, 1);
        Assert.Equal(1, estimate.Value);
        Assert.Equal(1, estimate.Upper);
        Assert.InRange(estimate.Lower, 0.999, 1);
    }

    [Fact]
    public void A_hole_that_may_come_out_smaller_than_its_fastener_fails_that_often()
    {
        // Uniform from 11.5 to 13.5 against a fastener of 12: three in four pass.
        var joint = Joints.Of(Spread(Joints.Round("1", 0, 0, 0, 0, 12.5), Exact with { DiameterLower = -1, DiameterUpper = 1 }));
        var estimate = BoltUpProbability.Estimate(joint, 20000, 3);
        Assert.InRange(0.75, estimate.Lower, estimate.Upper);
    }

    [Fact]
    public void Deciding_a_sample_agrees_with_solving_it()
    {
        for (var seed = 0; seed < 400; seed++)
        {
            var joint = Joints.Random(new Random(seed), 2 + (seed % 5), mixedSlots: seed % 2 == 0, limit: seed % 3 == 0 ? 4 : 180);
            var solution = PlanarBoltUp.Solve(joint);
            var passes = new PlanarSolver(PlanarPattern.Of(joint), joint.RotationLimitDegrees * Math.PI / 180).Passes();
            Assert.Equal(solution.Margin >= 0, passes);
        }
    }

    // Wilson (1927): 95 % interval of 8 out of 10, from memory 0.490 to 0.943.
    [Fact]
    public void The_interval_of_a_proportion_is_the_published_one()
    {
        var (lower, upper) = BoltUpProbability.Wilson(8, 10);
        Assert.Equal(0.490, lower, 3);
        Assert.Equal(0.943, upper, 3);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(-5)]
    [InlineData(1_000_001)]
    public void A_number_of_samples_out_of_range_is_refused(int samples)
    {
        var joint = Joints.Of(Spread(Joints.Round("1", 0, 0, 0, 0), Exact with { Uncertainty = 1 }));
        Assert.Equal("samples", Assert.Throws<InputError>(() => BoltUpProbability.Estimate(joint, samples, 1)).Field);
    }

    [Fact]
    public void Without_any_uncertainty_there_is_no_probability() =>
        Assert.Equal("samples", Assert.Throws<InputError>(() => BoltUpProbability.Estimate(Joints.Of(Joints.Round("1", 0, 0, 0, 0)), 100, 1)).Field);

    private static JointHole Spread(JointHole hole, HoleSpread spread) => hole with { B = hole.B with { Spread = spread } };
}
