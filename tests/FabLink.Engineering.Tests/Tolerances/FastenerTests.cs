using CsCheck;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Tolerances;

public class FastenerTests
{
    // ASME Y14.5-2018 Appendix B, floating: T = H − F.
    [Theory]
    [InlineData(10.5, 10, 0.5)]
    [InlineData(0.281, 0.250, 0.031)]
    public void A_floating_fastener_gives_each_hole_the_whole_clearance(double hole, double fastener, double tolerance)
    {
        Assert.Equal((decimal)tolerance, Fasteners.FloatingTolerance((decimal)hole, (decimal)fastener));
        Assert.Equal((decimal)hole, Fasteners.FloatingHole((decimal)tolerance, (decimal)fastener));
    }

    // ASME Y14.5-2018 Appendix B, fixed: T = (H − F)/2.
    [Theory]
    [InlineData(0.266, 0.250, 0.008)]
    [InlineData(13.0, 12.0, 0.5)]
    public void A_fixed_fastener_gives_each_half_of_it(double hole, double fastener, double tolerance)
    {
        Assert.Equal((decimal)tolerance, Fasteners.FixedTolerance((decimal)hole, (decimal)fastener));
        Assert.Equal((decimal)hole, Fasteners.FixedHole((decimal)fastener, (decimal)tolerance, (decimal)tolerance));
    }

    // ASME Y14.5-2018 Appendix B, fixed and unequal: 13.0 − 12 − 0.6.
    [Fact]
    public void What_the_thread_takes_the_clearance_hole_loses() => Assert.Equal(0.4m, Fasteners.FixedTolerance(13, 12, 0.6m));

    // ASME Y14.5-2018 Appendix B, no projected zone, from memory: H = F + T1 + T2·(1 + 2P/D).
    [Fact]
    public void Without_a_projected_zone_the_hole_must_grow() =>
        Assert.Equal(12 + 0.4m + 0.6m * (1 + 2 * 10m / 20m), Fasteners.FixedHoleWithoutProjection(12, 0.4m, 0.6m, 10, 20));

    // The same rule solved for T1 and for T1 = T2: F 12, H 13.5, T2 0.5, P 20, D 10 leave 13.5 − 12 − 0.5·5 < 0; H 16 leaves 1.5.
    [Fact]
    public void Without_a_projected_zone_the_thread_takes_more_of_the_hole()
    {
        Assert.Equal(1.5m, Fasteners.FixedToleranceWithoutProjection(16, 12, 0.5m, 20, 10));
        Assert.Equal("threadTolerance", Assert.Throws<InputError>(() => Fasteners.FixedToleranceWithoutProjection(13.5m, 12, 0.5m, 20, 10)).Field);
        var shared = Fasteners.FixedToleranceWithoutProjection(13.5m, 12, 20, 10);
        Assert.Equal(0.25m, shared);
        Assert.Equal(13.5m, Fasteners.FixedHoleWithoutProjection(12, shared, shared, 20, 10));
    }

    [Fact]
    public void Hole_from_tolerance_undoes_tolerance_from_hole() =>
        Gen.Select(Gen.Int[1, 100_000], Gen.Int[0, 20_000]).Sample((f, clearance) =>
        {
            var (fastener, hole) = (f / 1000m, (f + clearance) / 1000m);
            return Fasteners.FloatingHole(Fasteners.FloatingTolerance(hole, fastener), fastener) == hole
                && Fasteners.FixedHole(fastener, Fasteners.FixedTolerance(hole, fastener), Fasteners.FixedTolerance(hole, fastener)) == hole;
        });

    [Fact]
    public void A_fastener_larger_than_its_hole_is_refused()
    {
        Assert.Throws<InputError>(() => Fasteners.FloatingTolerance(12, 12.1m));
        Assert.Throws<InputError>(() => Fasteners.FixedTolerance(13, 12, 1.1m));
        Assert.Throws<InputError>(() => Fasteners.FixedHoleWithoutProjection(12, 0.4m, 0.6m, 10, 0));
    }

    // ASME Y14.5-2018 clause 5, ISO 2692:2021: hole 6.3 to 6.5, tolerance 0.2 at maximum material.
    [Fact]
    public void Virtual_and_resultant_condition_bound_the_feature()
    {
        var hole = new FeatureOfSize(6.3m, 6.5m, true);
        var pin = new FeatureOfSize(6.3m, 6.5m, false);

        Assert.Equal(6.1m, hole.VirtualCondition(MaterialCondition.Maximum, 0.2m));
        Assert.Equal(6.7m, pin.VirtualCondition(MaterialCondition.Maximum, 0.2m));
        Assert.Equal(6.7m, hole.VirtualCondition(MaterialCondition.Least, 0.2m));
        Assert.Equal(6.1m, pin.VirtualCondition(MaterialCondition.Least, 0.2m));
        Assert.Equal(6.9m, hole.ResultantCondition(MaterialCondition.Maximum, 0.2m));
        Assert.Equal(5.9m, pin.ResultantCondition(MaterialCondition.Maximum, 0.2m));
        Assert.Null(hole.VirtualCondition(MaterialCondition.None, 0.2m));
    }

    [Fact]
    public void The_bonus_is_never_below_zero_nor_above_the_size_tolerance() =>
        Gen.Select(Gen.Int[1, 50_000], Gen.Int[0, 1000], Gen.Int[-2000, 2000], Gen.Bool, Gen.Enum<MaterialCondition>()).Sample((lower, width, offset, isHole, modifier) =>
        {
            var feature = new FeatureOfSize(lower / 1000m, (lower + width) / 1000m, isHole);
            var bonus = feature.Bonus(modifier, (lower + offset) / 1000m);
            return bonus >= 0 && bonus <= width / 1000m && (modifier != MaterialCondition.None || bonus == 0);
        });
}
