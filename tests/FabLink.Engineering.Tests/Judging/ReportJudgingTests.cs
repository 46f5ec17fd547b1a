using FabLink.Engineering.Gauging;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class ReportJudgingTests
{
    private static readonly RequiredCharacteristic Width = Asked("11", "120 ±0.5", Importance.Minor);
    private static readonly RequiredCharacteristic Holes = Asked("12", "3× Ø13.5 +0.3/0", Importance.Critical);

    [Fact]
    public void A_report_conforms_when_every_instance_is_measured_and_conforms()
    {
        var report = ReportJudging.Judge([Width, Holes], [At("11", 1, 120.5m), At("12", 1, 13.6m), At("12", 2, 13.6m), At("12", 3, 13.6m)]);

        Assert.Equal(Verdict.Conforms, report.Overall);
        Assert.True(report.Passes);
    }

    [Fact]
    public void A_missing_instance_makes_it_incomplete_and_is_named()
    {
        var report = ReportJudging.Judge([Width, Holes], [At("11", 1, 120m), At("12", 1, 13.6m), At("12", 3, 13.6m)]);

        Assert.Equal(Verdict.Incomplete, report.Overall);
        Assert.Equal(["12.2"], report.Missing);
    }

    [Theory]
    [InlineData(121, 13.6, false, Verdict.DoesNotConform)]
    [InlineData(120, 13.51, false, Verdict.Incomplete)]
    [InlineData(120, 13.51, true, Verdict.NotProven)]
    [InlineData(120, 13.6, true, Verdict.Conforms)]
    public void Does_not_conform_comes_before_incomplete_before_not_proven(double width, double hole, bool complete, Verdict expected)
    {
        List<MeasuredValue> values = [At("11", 1, (decimal)width), At("12", 1, (decimal)hole), At("12", 2, 13.6m)];
        if (complete)
            values.Add(At("12", 3, 13.6m));

        Assert.Equal(expected, ReportJudging.Judge([Width, Holes], values).Overall);
    }

    [Fact]
    public void The_later_value_of_an_instance_stands()
    {
        var report = ReportJudging.Judge([Width], [At("11", 1, 121m), At("11", 1, 120.1m)]);

        Assert.Equal(Verdict.Conforms, report.Overall);
        Assert.Equal(120.1m, Assert.Single(report.Values).Measured.Value);
    }

    [Fact]
    public void The_worst_comes_first()
    {
        var report = ReportJudging.Judge(
            [Width, Holes],
            [At("11", 1, 121m), At("12", 1, 13.6m), At("12", 2, 13.51m), At("12", 3, 14.5m)]);

        Assert.Equal(["12.3", "11", "12.2", "12.1"], report.Values.Select(v => v.Name));
    }

    [Fact]
    public void The_instrument_lends_its_uncertainty_to_a_value_that_has_none()
    {
        var tape = Instrument.Default("tape 3", InstrumentKind.Tape);
        var report = ReportJudging.Judge(
            [Asked("1", "1500 ±1", Importance.Major)],
            [new MeasuredValue("1", 1, 1500.2m) { Instrument = tape }]);

        // Common practice: class II tape, 0.3 mm and 0.2 mm per started metre: 0.7 mm at 1.5 m; 1501 − 1500.2 = 0.8.
        Assert.Equal(0.7m, Assert.Single(report.Values).Judgement.Guard);
        Assert.Equal(Verdict.Conforms, report.Overall);
    }

    [Fact]
    public void Guarded_without_any_uncertainty_is_not_proven_and_says_what_is_missing()
    {
        var report = ReportJudging.Judge([Asked("7", "12 ±0.1", Importance.Critical)], [new MeasuredValue("7", 1, 12m)]);

        Assert.Equal(Verdict.NotProven, report.Overall);
        Assert.Contains(report.Cautions, c => c.Contains("uncertainty is known for 7", StringComparison.Ordinal));
    }

    [Fact]
    public void A_level_says_nothing_about_a_length()
    {
        var level = Instrument.Default("level", InstrumentKind.DigitalLevel);
        var report = ReportJudging.Judge([Asked("7", "12 ±0.1", Importance.Critical)], [new MeasuredValue("7", 1, 12m) { Instrument = level }]);

        Assert.Equal(Verdict.NotProven, report.Overall);
        Assert.Contains(report.Cautions, c => c.Contains("does not measure lengths", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(12.0, 11.4, Verdict.DoesNotConform)]
    [InlineData(12.0, 11.5, Verdict.Conforms)]
    public void A_matched_pair_is_judged_by_its_difference(double left, double right, Verdict expected)
    {
        var pair = new MatchedPair("arms", "L", "R", new Limits(Units.ToBase(-0.5m, Unit.Degree), Units.ToBase(0.5m, Unit.Degree)));
        var report = ReportJudging.Judge(
            [Asked("L", "12° ±1°", Importance.Minor), Asked("R", "12° ±1°", Importance.Minor)],
            [Angle("L", left), Angle("R", right)],
            [pair]);

        Assert.Equal(expected, report.Overall);
    }

    [Fact]
    public void A_pair_with_a_side_missing_is_incomplete()
    {
        var pair = new MatchedPair("arms", "L", "R", new Limits(-1, 1));
        var report = ReportJudging.Judge([Asked("L", "12 ±1", Importance.Minor), Asked("R", "12 ±1", Importance.Minor) with { IsRequired = false }], [At("L", 1, 12m)], [pair]);

        Assert.Equal(Verdict.Incomplete, report.Overall);
    }

    // ISO 2692 by example: hole Ø10 +0.05/0, position Ø0.1 at maximum material, measured 10.04: bonus 0.04, allowed 0.14.
    [Theory]
    [InlineData(0.10, 10.04, Verdict.Conforms)]
    [InlineData(0.14, 10.04, Verdict.Conforms)]
    [InlineData(0.1400001, 10.04, Verdict.DoesNotConform)]
    [InlineData(0.14, 10.03, Verdict.DoesNotConform)]
    [InlineData(0.15, 10.05, Verdict.Conforms)]
    public void A_position_at_maximum_material_gains_what_the_hole_departs_from_it(double position, double size, Verdict expected)
    {
        var report = ReportJudging.Judge([Hole, Placed("⌖ Ø0.1 M (hole 1)")], [At("1", 1, (decimal)size), At("2", 1, (decimal)position)]);

        Assert.Equal(expected, report.Values.Single(value => value.Name == "2").Judgement.Verdict);
        Assert.Equal((decimal)size - 10, report.Values.Single(value => value.Name == "2").Bonus);
    }

    // ISO 2692: at least material the bonus of a hole runs the other way; a pin is the mirror of a hole.
    [Theory]
    [InlineData("⌖ Ø0.1 L (hole 1)", 0.01)]
    [InlineData("⌖ Ø0.1 M (pin 1)", 0.01)]
    [InlineData("⌖ Ø0.1 L (pin 1)", 0.04)]
    public void Least_material_and_pins_turn_the_bonus_round(string requirement, double bonus)
    {
        var report = ReportJudging.Judge([Hole, Placed(requirement)], [At("1", 1, 10.04m), At("2", 1, 0.1m + (decimal)bonus)]);

        Assert.Equal(Verdict.Conforms, report.Overall);
        Assert.Equal((decimal)bonus, report.Values.Single(value => value.Name == "2").Bonus);
    }

    [Theory]
    [InlineData(0.10, Verdict.Conforms)]
    [InlineData(0.12, Verdict.NotProven)]
    [InlineData(0.16, Verdict.DoesNotConform)]
    public void Without_the_size_only_what_no_bonus_could_change_is_decided(double position, Verdict expected)
    {
        var report = ReportJudging.Judge([Hole with { IsRequired = false }, Placed("⌖ Ø0.1 M (hole 1)")], [At("2", 1, (decimal)position)]);

        Assert.Equal(expected, report.Overall);
        Assert.Equal(expected == Verdict.NotProven, report.Cautions.Contains("2: the size, balloon 1, is not measured, so its bonus is not known: not proven."));
    }

    // Both measurements are uncertain by 0.05, together by 0.0707: 0.07 short of the limit is not enough, 0.071 is.
    [Theory]
    [InlineData(0.60, 0.07, Verdict.NotProven)]
    [InlineData(0.60, 0.071, Verdict.Conforms)]
    public void The_uncertainty_of_the_size_counts_in_a_guarded_position(double bonus, double spare, Verdict expected)
    {
        var hole = Asked("1", "10 +1/0", Importance.Minor);
        var placed = Placed("⌖ Ø0.1 M (hole 1)") with { Rule = JudgingRule.Guarded };
        var report = ReportJudging.Judge([hole, placed], [At("1", 1, 10 + (decimal)bonus), At("2", 1, 0.1m + (decimal)bonus - (decimal)spare)]);

        Assert.Equal(expected, report.Values.Single(value => value.Name == "2").Judgement.Verdict);
    }

    [Fact]
    public void Each_place_of_a_pattern_has_the_bonus_of_its_own_hole()
    {
        var holes = Asked("1", "2× Ø10 +0.05/0", Importance.Minor);
        var report = ReportJudging.Judge(
            [holes, Placed("2× ⌖ Ø0.1 M (hole 1)")], [At("1", 1, 10m), At("1", 2, 10.05m), At("2", 1, 0.12m), At("2", 2, 0.12m)]);

        Assert.Equal(Verdict.DoesNotConform, report.Values.Single(value => value.Name == "2.1").Judgement.Verdict);
        Assert.Equal(Verdict.Conforms, report.Values.Single(value => value.Name == "2.2").Judgement.Verdict);
    }

    [Fact]
    public void An_attribute_is_judged_yes_or_no()
    {
        var thread = new RequiredCharacteristic("9", Requirement.Parse("go/no-go: M12-6H", Unit.None, null), Importance.Critical);

        Assert.Equal(Verdict.DoesNotConform, ReportJudging.Judge([thread], [new MeasuredValue("9", 1, null) { Passes = false }]).Overall);
        Assert.Equal(Verdict.Conforms, ReportJudging.Judge([thread], [new MeasuredValue("9", 1, null) { Passes = true }]).Overall);
        Assert.Equal("values/0/value", Assert.Throws<InputError>(() => ReportJudging.Judge([thread], [At("9", 1, 3m)])).Field);
    }

    [Fact]
    public void Rows_that_cannot_be_meant_name_the_row_and_the_field()
    {
        Assert.Equal("required/1/balloon", Assert.Throws<InputError>(() => ReportJudging.Judge([Width, Width], [])).Field);
        Assert.Equal("values/0/balloon", Assert.Throws<InputError>(() => ReportJudging.Judge([Width], [At("99", 1, 3m)])).Field);
        Assert.Equal("values/0/instance", Assert.Throws<InputError>(() => ReportJudging.Judge([Holes], [At("12", 4, 13.6m)])).Field);
    }

    private static RequiredCharacteristic Hole => Asked("1", "Ø10 +0.05/0", Importance.Minor);

    private static RequiredCharacteristic Placed(string text) =>
        Asked("2", text, Importance.Minor) with { Size = Assert.IsType<PositionWithin>(Requirement.Parse(text, Unit.Millimetre, null)).Size };

    private static RequiredCharacteristic Asked(string balloon, string text, Importance importance) =>
        new(balloon, Requirement.Parse(text, Unit.Millimetre, null), importance);

    private static MeasuredValue At(string balloon, int instance, decimal value) =>
        new(balloon, instance, value) { ExpandedUncertainty = 0.05m };

    private static MeasuredValue Angle(string balloon, double degrees) =>
        new(balloon, 1, Units.ToBase((decimal)degrees, Unit.Degree));
}
