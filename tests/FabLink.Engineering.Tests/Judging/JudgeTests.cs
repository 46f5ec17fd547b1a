using CsCheck;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class JudgeTests
{
    private static readonly Limits Hole = new(11.9m, 12.1m);

    [Theory]
    [InlineData(11.9, Verdict.Conforms)]
    [InlineData(12.1, Verdict.Conforms)]
    [InlineData(12, Verdict.Conforms)]
    public void A_hole_exactly_on_its_limit_conforms(double value, Verdict expected) =>
        Assert.Equal(expected, Judge.Value(Hole, (decimal)value, null, JudgingRule.Simple).Verdict);

    [Fact]
    public void The_smallest_step_beyond_a_limit_does_not_conform()
    {
        var judgement = Judge.Value(Hole, 12.1000000000000000000000001m, null, JudgingRule.Simple);

        Assert.Equal(Verdict.DoesNotConform, judgement.Verdict);
        Assert.Equal(0.0000000000000000000000001m, judgement.OffBy);
    }

    // ISO 14253-1:2013: 25.00 ±0.10 with U = 0.05 has the acceptance zone 24.95 to 25.05; computed from the rule.
    [Theory]
    [InlineData(24.95, Verdict.Conforms)]
    [InlineData(25.05, Verdict.Conforms)]
    [InlineData(25.07, Verdict.NotProven)]
    [InlineData(25.12, Verdict.NotProven)]
    [InlineData(25.15, Verdict.NotProven)]
    [InlineData(25.16, Verdict.DoesNotConform)]
    [InlineData(24.84, Verdict.DoesNotConform)]
    public void Guarded_acceptance_proves_inside_the_zone_shrunk_by_U(double value, Verdict expected)
    {
        var judgement = Judge.Value(new Limits(24.90m, 25.10m), (decimal)value, 0.05m, JudgingRule.Guarded);

        Assert.Equal(expected, judgement.Verdict);
        Assert.Equal(0.05m, judgement.Guard);
    }

    // ISO 14253-1:2017: 95 % one-sided, 25.10 − 1.645 · 0.025 = 25.058875.
    [Theory]
    [InlineData(25.058875, Verdict.Conforms)]
    [InlineData(25.058876, Verdict.NotProven)]
    public void The_2017_guard_is_1_645_standard_uncertainties(double value, Verdict expected)
    {
        var terms = new JudgingTerms { Guard = GuardBand.NinetyFivePercent };

        Assert.Equal(expected, Judge.Value(new Limits(24.90m, 25.10m), (decimal)value, 0.05m, JudgingRule.Guarded, terms).Verdict);
        Assert.Contains("2017", terms.GuardSource, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(JudgingRule.Guarded)]
    [InlineData(JudgingRule.Probability)]
    public void Without_U_nothing_is_proven_where_the_rule_needs_it(JudgingRule rule)
    {
        var judgement = Judge.Value(Hole, 12m, null, rule);

        Assert.Equal(Verdict.NotProven, judgement.Verdict);
        Assert.True(judgement.MissingUncertainty);
    }

    [Fact]
    public void A_negative_uncertainty_is_refused() =>
        Assert.Equal("expandedUncertainty", Assert.Throws<InputError>(() => Judge.Value(Hole, 12m, -0.1m, JudgingRule.Guarded)).Field);

    [Theory]
    [InlineData(0.5)]
    [InlineData(1.0)]
    [InlineData(double.NaN)]
    public void A_minimum_probability_of_a_half_or_of_one_is_refused(double minimum) =>
        Assert.Throws<InputError>(() => Judge.Value(Hole, 12m, 0.1m, JudgingRule.Probability, new JudgingTerms { MinimumProbability = minimum }));

    [Fact]
    public void A_one_sided_requirement_accepts_everything_on_its_open_side()
    {
        Assert.Equal(Verdict.Conforms, Judge.Value(new Limits(null, 0.5m), -1_000_000m, 0.1m, JudgingRule.Guarded).Verdict);
        Assert.Equal(Verdict.Conforms, Judge.Value(new Limits(40m, null), decimal.MaxValue, null, JudgingRule.Simple).Verdict);
    }

    [Fact]
    public void A_guard_wider_than_half_the_tolerance_lets_nothing_conform()
    {
        Assert.Equal(Verdict.NotProven, Judge.Value(Hole, 12m, 0.11m, JudgingRule.Guarded).Verdict);
        Assert.Equal(Verdict.Conforms, Judge.Value(Hole, 12m, 0.1m, JudgingRule.Guarded).Verdict);
        Assert.Throws<InputError>(() => AcceptanceZone.Around(Hole, -0.1m));
    }

    [Fact]
    public void The_probability_is_told_under_every_rule_where_that_is_asked()
    {
        Assert.Equal(0.5, Judge.WithProbability(new Limits(null, 12.1m), 12.1m, 0.02m, JudgingRule.Simple).ConformanceProbability);
        Assert.Null(Judge.WithProbability(Hole, 12.1m, null, JudgingRule.Simple).ConformanceProbability);
    }

    [Fact]
    public void Spans_of_different_length_are_refused() =>
        Assert.Equal("values", Assert.Throws<InputError>(() => Judge.Values([Hole], [1m, 2m], new Verdict[2])).Field);

    [Fact]
    public void Judging_a_value_allocates_nothing()
    {
        JudgeManyTimes(1_000);
        var before = GC.GetAllocatedBytesForCurrentThread();
        JudgeManyTimes(10_000);

        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }

    private static void JudgeManyTimes(int times)
    {
        for (var i = 0; i < times; i++)
        {
            Judge.Value(Hole, 12.05m, null, JudgingRule.Simple);
            Judge.Value(Hole, 12.05m, 0.01m, JudgingRule.Guarded);
            Judge.Value(Hole, 12.05m, 0.01m, JudgingRule.Probability);
        }
    }

    private static readonly Gen<decimal> Dimension = Gen.Long[-20_000_000_000, 20_000_000_000].Select(n => n / 1_000_000m);
    private static readonly Gen<decimal> Tolerance = Gen.Long[1, 10_000_000].Select(n => n / 1_000_000m);

    [Fact]
    public void Simple_judging_agrees_with_whole_numbers_on_random_decimals() =>
        Gen.Select(Gen.Long[-1_000_000_000, 1_000_000_000], Gen.Long[0, 1_000_000], Gen.Long[-1_000_100, 1_000_100]).Sample(
            (nominal, tolerance, offset) =>
            {
                var limits = new Limits((nominal - tolerance) / 1_000_000m, (nominal + tolerance) / 1_000_000m);
                var verdict = Judge.Value(limits, (nominal + offset) / 1_000_000m, null, JudgingRule.Simple).Verdict;
                return verdict == (Math.Abs(offset) <= tolerance ? Verdict.Conforms : Verdict.DoesNotConform);
            },
            iter: Fuzz.Times(120_000));

    [Fact]
    public void A_value_on_either_limit_conforms_whatever_the_limit() =>
        Gen.Select(Dimension, Tolerance).Sample(
            (nominal, tolerance) =>
            {
                var limits = new Limits(nominal - tolerance, nominal + tolerance);
                return Judge.Value(limits, nominal + tolerance, null, JudgingRule.Simple).Verdict == Verdict.Conforms
                    && Judge.Value(limits, nominal - tolerance, null, JudgingRule.Simple).Verdict == Verdict.Conforms
                    && Judge.Value(limits, nominal + tolerance + 0.000000000001m, null, JudgingRule.Simple).Verdict == Verdict.DoesNotConform;
            },
            iter: Fuzz.Times(120_000));

    [Fact]
    public void What_guarded_judging_proves_simple_judging_says_as_well() =>
        Gen.Select(Dimension, Tolerance, Tolerance, Gen.Int[-2000, 2000]).Sample(
            (nominal, tolerance, uncertainty, thousandths) =>
            {
                var limits = new Limits(nominal - tolerance, nominal + tolerance);
                var value = nominal + tolerance * thousandths / 1000m;
                var guarded = Judge.Value(limits, value, uncertainty, JudgingRule.Guarded).Verdict;
                return guarded == Verdict.NotProven || guarded == Judge.Value(limits, value, null, JudgingRule.Simple).Verdict;
            },
            iter: Fuzz.Times(120_000));

    [Fact]
    public void Verdicts_do_not_depend_on_the_unit_the_numbers_were_typed_in() =>
        Gen.Select(Gen.Int[1, 10_000_000], Gen.Int[1, 10_000], Gen.Int[-10_001, 10_001]).Sample(
            (nominal, tolerance, offset) =>
            {
                // In inches and in mils the comparison is between the same whole numbers.
                var inches = new Limits(Units.ToBase((nominal - tolerance) / 10_000m, Unit.Inch), Units.ToBase((nominal + tolerance) / 10_000m, Unit.Inch));
                var value = Units.ToBase((nominal + offset) / 10m, Unit.Mil);
                return Judge.Value(inches, value, null, JudgingRule.Simple).Verdict
                    == (Math.Abs(offset) <= tolerance ? Verdict.Conforms : Verdict.DoesNotConform);
            },
            iter: Fuzz.Times(120_000));

    [Fact]
    public void Many_at_once_says_the_same_as_one_by_one() =>
        Gen.Select(Dimension, Tolerance, Gen.Int[-1500, 1500], Gen.Int[0, 1500], Gen.Int[0, 3]).Array[64].Sample(
            rows =>
            {
                var limits = rows.Select(r => new Limits(r.Item5 == 1 ? null : r.Item1 - r.Item2, r.Item5 == 2 ? null : r.Item1 + r.Item2)).ToArray();
                var values = rows.Select(r => r.Item1 + r.Item2 * r.Item3 / 1000m).ToArray();
                var zones = rows.Select((r, i) => AcceptanceZone.Around(limits[i], r.Item2 * r.Item4 / 1000m)).ToArray();
                var simple = new Verdict[rows.Length];
                var guarded = new Verdict[rows.Length];
                Judge.Values(limits, values, simple);
                Judge.Values(zones, values, guarded);
                return Enumerable.Range(0, rows.Length).All(i =>
                    simple[i] == Judge.Value(limits[i], values[i], null, JudgingRule.Simple).Verdict
                    && guarded[i] == Judge.Value(limits[i], values[i], rows[i].Item2 * rows[i].Item4 / 1000m, JudgingRule.Guarded).Verdict);
            },
            iter: Fuzz.Times(3_000));
}
