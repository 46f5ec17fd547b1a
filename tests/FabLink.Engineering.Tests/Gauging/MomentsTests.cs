using System.Globalization;
using CsCheck;
using FabLink.Engineering.Gauging;

namespace FabLink.Engineering.Tests.Gauging;

public class MomentsTests
{
    // NIST Statistical Reference Datasets (StRD), univariate summary statistics: certified to 15 digits. The digits reached in double
    // are stated per set; in decimal every certified digit is reached.
    [Theory]
    [InlineData("lew.csv", 15, 15)]
    [InlineData("lottery.csv", 15, 15)]
    [InlineData("mavro.csv", 15, 13)]
    [InlineData("michelso.csv", 15, 13)]
    public void Certified_means_and_deviations_are_met_to_the_stated_digits(string file, double meanDigits, double deviationDigits)
    {
        var rows = PublishedFile.Rows(Path.Combine("nist-strd", file));
        var (certifiedMean, certifiedDeviation) = (Exact(rows[0][0]), Exact(rows[0][1]));
        var data = rows[1..].Select(row => Exact(row[0])).ToArray();

        Meets(certifiedMean, certifiedDeviation, data, meanDigits, deviationDigits);
    }

    // NIST StRD NumAcc1: 10000001, 10000003, 10000002; mean 10000002, deviation 1, exactly.
    [Fact]
    public void NumAcc1_is_met() => Meets(10000002, 1, [10000001, 10000003, 10000002], 15, 15);

    // NIST StRD NumAcc2: 1.2, then 1.1 and 1.3 alternating, 1001 in all; mean 1.2, deviation 0.1, exactly.
    [Fact]
    public void NumAcc2_is_met() => Meets(1.2m, 0.1m, Alternating(1.2m, 1.1m, 1.3m), 15, 15);

    // NIST StRD NumAcc3: 1000000.2, then .1 and .3 alternating, 1001 in all; mean 1000000.2, deviation 0.1, exactly. In double
    // the data themselves have lost the digits beyond the ninth of the deviation.
    [Fact]
    public void NumAcc3_is_met_as_far_as_its_data_survive_in_double() => Meets(1000000.2m, 0.1m, Alternating(1000000.2m, 1000000.1m, 1000000.3m), 15, 9);

    // NIST StRD NumAcc4: 10000000.2, then .1 and .3 alternating, 1001 in all; mean 10000000.2, deviation 0.1, exactly.
    [Fact]
    public void NumAcc4_is_met_as_far_as_its_data_survive_in_double() => Meets(10000000.2m, 0.1m, Alternating(10000000.2m, 10000000.1m, 10000000.3m), 15, 8);

    [Fact]
    public void A_constant_offset_that_double_holds_costs_nothing() =>
        Gen.Int[-1000, 1000].Array[2, 50].Where(a => a.Distinct().Count() > 1).Sample(values =>
        {
            var plain = Moments.Of([.. values.Select(v => (double)v)]);
            var far = Moments.Of([.. values.Select(v => v + 1e12)]);
            return Math.Abs(far.StandardDeviation - plain.StandardDeviation) <= 1e-14 * plain.StandardDeviation;
        });

    [Fact]
    public void One_value_or_none_and_what_is_not_finite_are_refused()
    {
        Assert.Throws<InputError>(() => Moments.Of([1.0]));
        Assert.Throws<InputError>(() => Moments.Of(ReadOnlySpan<decimal>.Empty));
        Assert.Equal("values/1", Assert.Throws<InputError>(() => Moments.Of([1.0, double.NaN])).Field);
        Assert.Equal("values/0", Assert.Throws<InputError>(() => Moments.Of([double.PositiveInfinity, 1])).Field);
        Assert.Throws<InputError>(() => Moments.Of([decimal.MaxValue, decimal.MinValue, 1m]));
    }

    private static void Meets(decimal mean, decimal deviation, decimal[] data, double meanDigits, double deviationDigits)
    {
        var found = Moments.Of([.. data.Select(d => (double)d)]);
        Assert.True(Digits(found.Mean, (double)mean) >= meanDigits, $"mean {found.Mean:R}: {Digits(found.Mean, (double)mean):0.0} digits");
        Assert.True(Digits(found.StandardDeviation, (double)deviation) >= deviationDigits, $"deviation {found.StandardDeviation:R}: {Digits(found.StandardDeviation, (double)deviation):0.0} digits");

        var exact = Moments.Of(data);
        Assert.True(Digits((double)exact.Mean, (double)mean) >= 15);
        Assert.True(Digits((double)exact.StandardDeviation, (double)deviation) >= 14.9, $"{exact.StandardDeviation}");
    }

    // Log relative error; a match to the last bit counts as 16.
    private static double Digits(double found, double certified) =>
        found == certified ? 16 : Math.Min(16, -Math.Log10(Math.Abs(found - certified) / Math.Abs(certified)));

    private static decimal[] Alternating(decimal first, decimal low, decimal high) =>
        [first, .. Enumerable.Range(0, 1000).Select(i => i % 2 == 0 ? low : high)];

    private static decimal Exact(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);
}
