using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class JudgementsTests
{
    private static readonly JudgeQuestion OnTheLimit = new("12 ±0.1", Unit.Millimetre, "12.1", Unit.Millimetre) { ExpandedUncertainty = "0.02" };

    // JCGM 106:2012, 7.3: a value on a limit conforms with probability one half.
    [Fact]
    public void One_number_is_judged_from_what_people_write()
    {
        var answer = Judgements.Judge(OnTheLimit);

        Assert.Equal(Verdict.Conforms, answer.Verdict);
        Assert.Equal(0.1m, answer.Deviation);
        Assert.Null(answer.Guard);
        Assert.Equal(0.5, answer.ConformanceProbability);
        Assert.NotEmpty(answer.Sources);
        Assert.NotEmpty(answer.Cautions);
    }

    [Fact]
    public void The_same_number_is_not_proven_under_the_guard()
    {
        var answer = Judgements.Judge(OnTheLimit with { Rule = JudgingRule.Guarded });

        Assert.Equal(Verdict.NotProven, answer.Verdict);
        Assert.Equal(0.02m, answer.Guard);
        Assert.Contains(answer.Sources, s => s.Contains("ISO 14253-1:2013", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("12.05", Verdict.Conforms)]
    [InlineData("12.1", Verdict.NotProven)]
    [InlineData("12.2", Verdict.DoesNotConform)]
    public void By_probability_needs_the_stated_minimum_either_way(string value, Verdict expected) =>
        Assert.Equal(expected, Judgements.Judge(OnTheLimit with { Value = value, Rule = JudgingRule.Probability }).Verdict);

    [Fact]
    public void A_value_may_come_in_another_unit_than_its_requirement()
    {
        Assert.Equal("value", Assert.Throws<InputError>(() => Judgements.Judge(new JudgeQuestion("⌖ Ø0.75", Unit.Millimetre, "-5", Unit.Millimetre))).Field);
        var answer = Judgements.Judge(new JudgeQuestion(".750 ±.005 in", Unit.Millimetre, "19,177", Unit.Millimetre));

        Assert.Equal(Verdict.Conforms, answer.Verdict);
        Assert.Equal(0.005m, answer.Deviation);
        Assert.Equal(0.755m, answer.Upper);
    }

    [Fact]
    public void An_angle_may_come_in_degrees_minutes_and_seconds()
    {
        var answer = Judgements.Judge(new JudgeQuestion("45° ±0°30'", Unit.Degree, "45°30'", Unit.DegreeMinuteSecond));

        Assert.Equal(Verdict.Conforms, answer.Verdict);
        Assert.Equal(0.5m, answer.Deviation);
    }

    [Fact]
    public void The_drawings_general_tolerance_fills_the_blank_and_is_named()
    {
        var answer = Judgements.Judge(new JudgeQuestion("120", Unit.Millimetre, "120.3", Unit.Millimetre) { General = GeneralTolerance.Parse("ISO 2768-m") });

        Assert.Equal(Verdict.Conforms, answer.Verdict);
        Assert.Contains(answer.Sources, s => s.Contains("ISO 2768-1:1989", StringComparison.Ordinal));
    }

    /// <summary>ISO 2692: under a modifier the size adds to what is allowed, so without it only what needs no bonus is told.</summary>
    [Theory]
    [InlineData("0.7", Verdict.Conforms)]
    [InlineData("0.8", Verdict.NotProven)]
    public void A_position_under_a_modifier_is_not_refused_before_its_size_is_known(string value, Verdict verdict)
    {
        var answer = Judgements.Judge(new JudgeQuestion("⌖ Ø0.75 M (hole 12)", Unit.Millimetre, value, Unit.Millimetre));

        Assert.Equal((verdict, null), (answer.Verdict, answer.OffBy));
        Assert.Equal(verdict == Verdict.NotProven, answer.Cautions.Any(caution => caution.Contains("size", StringComparison.Ordinal)));
    }

    [Fact]
    public void A_guard_that_leaves_no_room_is_told() =>
        Assert.Contains(
            Judgements.Judge(OnTheLimit with { Rule = JudgingRule.Guarded, ExpandedUncertainty = "0.2" }).Cautions,
            c => c.Contains("no value can conform", StringComparison.Ordinal));

    [Fact]
    public void What_cannot_be_understood_names_its_field()
    {
        Assert.Equal("requirement", Refused(OnTheLimit with { Requirement = "12 ±" }));
        Assert.Equal("requirement", Refused(OnTheLimit with { Requirement = "go/no-go" }));
        Assert.Equal("value", Refused(OnTheLimit with { Value = "NaN" }));
        Assert.Equal("value", Refused(OnTheLimit with { Value = "" }));
        Assert.Equal("valueUnit", Refused(OnTheLimit with { ValueUnit = Unit.Degree }));
        Assert.Equal("expandedUncertainty", Refused(OnTheLimit with { ExpandedUncertainty = "-1" }));
        Assert.Equal("minimumProbability", Refused(OnTheLimit with { Terms = new JudgingTerms { MinimumProbability = 2 } }));
    }

    private static string Refused(JudgeQuestion question) => Assert.Throws<InputError>(() => Judgements.Judge(question)).Field;
}
