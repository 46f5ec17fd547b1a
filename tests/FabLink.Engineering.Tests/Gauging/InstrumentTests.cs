using FabLink.Engineering.Gauging;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Gauging;

public class InstrumentTests
{
    private static readonly DateOnly Today = new(2026, 3, 2);

    // Common practice.
    [Theory]
    [InlineData(InstrumentKind.Tape, 900, 0.5)]
    [InlineData(InstrumentKind.Tape, 1000, 0.5)]
    [InlineData(InstrumentKind.Tape, 1001, 0.7)]
    [InlineData(InstrumentKind.Tape, -2500, 0.9)]
    [InlineData(InstrumentKind.Square, 300, 0.2)]
    [InlineData(InstrumentKind.Square, 150, 0.1)]
    [InlineData(InstrumentKind.Caliper, 100, 0.03)]
    [InlineData(InstrumentKind.HeightGauge, 100, 0.05)]
    [InlineData(InstrumentKind.PortableArm, 1000, 0.1)]
    [InlineData(InstrumentKind.DigitalLevel, 1000, 720)]
    public void Kinds_have_the_trades_uncertainty(InstrumentKind kind, double length, double expected) =>
        Assert.Equal((decimal)expected, Instrument.Default("it", kind).ExpandedUncertaintyAt((decimal)length));

    [Fact]
    public void An_unknown_kind_has_none() => Assert.Null(Instrument.Default("it", InstrumentKind.Other).ExpandedUncertaintyAt(100));

    // Common practice: ratio tolerance / (2U), 10 preferred and 4 the floor; with a tape at 1 m nothing tighter than ±2 mm.
    [Theory]
    [InlineData(5, GaugeFitness.Preferred, 10)]
    [InlineData(2, GaugeFitness.Sufficient, 4)]
    [InlineData(1.9, GaugeFitness.TooCoarse, 3.8)]
    public void A_tape_at_a_metre_can_judge_two_millimetres_and_no_less(double deviation, GaugeFitness fitness, double ratio)
    {
        var check = Check(InstrumentKind.Tape, Deviation(1000, (decimal)deviation), Importance.Minor, Today);

        Assert.Equal(fitness, check.Fitness);
        Assert.Equal((decimal)ratio, check.Ratio);
    }

    [Fact]
    public void A_gauge_that_is_too_coarse_is_told_with_its_ratio() =>
        Assert.Contains(Check(InstrumentKind.Tape, Deviation(1000, 1), Importance.Minor, Today).Warnings, w => w.Contains("is 2.0, below 4", StringComparison.Ordinal));

    [Fact]
    public void A_resolution_coarser_than_a_tenth_is_told() =>
        Assert.Contains(Check(InstrumentKind.Caliper, Deviation(12, 0.04m), Importance.Minor, Today).Warnings, w => w.Contains("steps of 1/8", StringComparison.Ordinal));

    [Fact]
    public void One_open_side_leaves_the_ratio_unknown() =>
        Assert.Equal(GaugeFitness.Unknown, Check(InstrumentKind.Caliper, new Limits(null, 0.5m), Importance.Minor, Today).Fitness);

    [Fact]
    public void The_last_day_of_calibration_still_counts()
    {
        Assert.False(Check(InstrumentKind.Caliper, Deviation(12, 1), Importance.Critical, new(2026, 3, 31)).Refused);
        Assert.True(Check(InstrumentKind.Caliper, Deviation(12, 1), Importance.Critical, new(2026, 4, 1)).Refused);
    }

    [Fact]
    public void Out_of_calibration_is_refused_on_critical_characteristics_unless_an_engineer_gives_a_reason()
    {
        var late = new DateOnly(2026, 4, 1);

        Assert.False(Check(InstrumentKind.Caliper, Deviation(12, 1), Importance.Major, late).Refused);
        var overridden = Check(InstrumentKind.Caliper, Deviation(12, 1), Importance.Critical, late, "checked against a gauge block today");
        Assert.False(overridden.Refused);
        Assert.True(overridden.Overridden);
        Assert.True(Check(InstrumentKind.Caliper, Deviation(12, 1), Importance.Critical, late, " ").Refused);
    }

    [Fact]
    public void An_instrument_without_any_calibration_is_out_of_it()
    {
        var check = GaugeCheck.Assess(Instrument.Default("new", InstrumentKind.Caliper), Deviation(12, 1), 12, Importance.Critical, Today);

        Assert.True(check.Refused);
        Assert.Contains(check.Warnings, w => w.Contains("no calibration on record", StringComparison.Ordinal));
    }

    [Fact]
    public void The_values_own_uncertainty_comes_first()
    {
        var check = GaugeCheck.Assess(Instrument.Default("c", InstrumentKind.Caliper), Deviation(12, 0.1m), 12, Importance.Minor, Today, null, 0.01m);

        Assert.Equal(10, check.Ratio);
    }

    [Fact]
    public void A_level_keeps_its_uncertainty_whatever_the_angle() =>
        Assert.Equal(Units.ToBase(0.2m, Unit.Degree), Instrument.Default("l", InstrumentKind.DigitalLevel).ExpandedUncertaintyAt(Units.ToBase(45, Unit.Degree)));

    // ISO 1:2022 and 11.5e-6 per °C (JCGM 100:2008, H.1): 1000 mm of steel at 30 °C is 0.115 mm too long, read by an instrument at 20 °C.
    [Fact]
    public void A_warm_part_is_brought_to_20_degrees()
    {
        var answer = Temperature.To20(1000.115m, 30, Temperature.ExpansionOf("steel"));

        Assert.Equal(1000m, answer.At20);
        Assert.Equal(-0.115m, answer.Correction);
    }

    [Fact]
    public void A_steel_tape_as_warm_as_its_steel_part_needs_no_correction() =>
        Assert.Equal(1000m, Temperature.To20(1000m, 35, 0.0000115m, 35, 0.0000115m).At20);

    [Theory]
    [InlineData(200, 0.0000115, "partTemperature")]
    [InlineData(-41, 0.0000115, "partTemperature")]
    [InlineData(20, 11.5, "partExpansion")]
    public void Temperatures_and_coefficients_out_of_range_are_refused(double temperature, double expansion, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => Temperature.To20(1, (decimal)temperature, (decimal)expansion)).Field);

    [Fact]
    public void An_unknown_material_is_refused() => Assert.Throws<InputError>(() => Temperature.ExpansionOf("unobtainium"));

    private static Limits Deviation(decimal size, decimal deviation) => new(size - deviation, size + deviation);

    private static GaugeAssessment Check(InstrumentKind kind, Limits limits, Importance importance, DateOnly day, string? reason = null) =>
        GaugeCheck.Assess(
            Instrument.Default("it", kind) with { CalibrationDue = new(2026, 3, 31) }, limits, limits.Middle ?? 1, importance, day, reason);
}
