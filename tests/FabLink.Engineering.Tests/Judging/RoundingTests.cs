using CsCheck;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class RoundingTests
{
    // ASTM E29, rounding method: nearest multiple, a tie to the even one.
    [Theory]
    [InlineData(59_940, 100, 59_900)]
    [InlineData(59_950, 100, 60_000)]
    [InlineData(59_960, 100, 60_000)]
    [InlineData(56.4, 1, 56)]
    [InlineData(56.5, 1, 56)]
    [InlineData(56.6, 1, 57)]
    [InlineData(40.5, 1, 40)]
    [InlineData(40.6, 1, 41)]
    [InlineData(0.54, 0.1, 0.5)]
    [InlineData(0.55, 0.1, 0.6)]
    [InlineData(0.45, 0.1, 0.4)]
    [InlineData(-0.55, 0.1, -0.6)]
    [InlineData(-0.45, 0.1, -0.4)]
    [InlineData(-0.46, 0.1, -0.5)]
    public void A_tie_goes_to_the_even_multiple(double value, double step, double expected) =>
        Assert.Equal((decimal)expected, Rounding.ToStep((decimal)value, (decimal)step));

    // ASTM E29: 0.55 against a maximum of 0.5 in steps of 0.1 fails, 0.54 passes; the absolute method fails both.
    [Theory]
    [InlineData("0.54", Verdict.Conforms)]
    [InlineData("0.55", Verdict.DoesNotConform)]
    public void A_value_is_rounded_before_it_is_judged_only_where_that_is_asked(string value, Verdict rounded)
    {
        var number = NumberText.Parse(value, "value");
        var limits = new Limits(null, 0.5m);

        Assert.Equal(rounded, Judge.Value(limits, number, null, JudgingRule.Simple, new JudgingTerms { RoundTo = 0.1m }).Verdict);
        Assert.Equal(Verdict.DoesNotConform, Judge.Value(limits, number, null, JudgingRule.Simple).Verdict);
    }

    [Fact]
    public void A_tie_in_inches_is_a_tie_in_millimetres()
    {
        // 0.7505 in to the nearest 0.001 in is 0.750 in, although neither is round in millimetres.
        var rounded = Rounding.ToStep(Units.ToBase(0.7505m, Unit.Inch), Units.ToBase(0.001m, Unit.Inch));

        Assert.Equal(0.750m, Units.FromBase(rounded, Unit.Inch));
    }

    [Fact]
    public void Powers_of_ten_agree_with_decimal_rounding() =>
        Gen.Select(Gen.Int[-2_000_000_000, 2_000_000_000], Gen.Int[0, 6], Gen.Int[0, 6]).Sample((n, scale, places) =>
        {
            var value = new decimal(Math.Abs(n), 0, 0, n < 0, (byte)scale);
            return Rounding.ToStep(value, new decimal(1, 0, 0, false, (byte)places)) == decimal.Round(value, places, MidpointRounding.ToEven);
        },
        iter: Fuzz.Times(100_000));

    [Fact]
    public void A_step_of_zero_is_refused() => Assert.Throws<InputError>(() => Rounding.ToStep(1, 0));
}
