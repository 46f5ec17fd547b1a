using CsCheck;
using FabLink.Engineering.Sampling;

namespace FabLink.Engineering.Tests.Sampling;

public class OperatingCurveTests
{
    // Hypergeometric distribution, exact: C(47,8)/C(50,8) = 41/70; N = 100, D = 5, n = 20, c = 1: 0.739453.
    [Theory]
    [InlineData(50, 3, 8, 0, 0.585714285714286)]
    [InlineData(100, 5, 20, 1, 0.739453)]
    public void A_lot_is_accepted_with_its_exact_probability(int lot, int nonconforming, int sample, int accept, double expected)
    {
        var answer = OperatingCurve.Calculate(new OperatingCurveQuestion(sample, accept) { Lot = lot, Nonconforming = nonconforming });

        Assert.Equal(expected, answer.AcceptanceProbability, 5e-7);
        Assert.Equal("hypergeometric", answer.Distribution);
    }

    // Binomial distribution, exact: n = 80, c = 2, p = 0.01.
    [Fact]
    public void A_process_is_accepted_with_its_exact_probability() =>
        Assert.Equal(0.953447, OperatingCurve.Calculate(new OperatingCurveQuestion(80, 2) { Fraction = 0.01 }).AcceptanceProbability, 5e-7);

    // NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.3: plan n = 52, c = 3, printed to three digits.
    [Theory]
    [InlineData(0.01, 0.998)]
    [InlineData(0.02, 0.980)]
    [InlineData(0.03, 0.930)]
    [InlineData(0.04, 0.845)]
    [InlineData(0.05, 0.739)]
    [InlineData(0.06, 0.620)]
    [InlineData(0.07, 0.502)]
    [InlineData(0.08, 0.394)]
    [InlineData(0.09, 0.300)]
    [InlineData(0.10, 0.223)]
    [InlineData(0.11, 0.162)]
    [InlineData(0.12, 0.115)]
    public void The_handbooks_operating_curve_is_met(double fraction, double printed) =>
        Assert.Equal(printed, OperatingCurve.Binomial(fraction, 52, 3), 0.00115);

    // Reject: printed risks .11, .09, .03 for AQL 0.65 % with n = 20, 80, 500; the exact binomial gives .1223, .0958, .0179.
    [Theory]
    [InlineData(20, 0, 0.1223)]
    [InlineData(80, 1, 0.0958)]
    [InlineData(500, 7, 0.0179)]
    public void Producers_risks_are_exact_and_not_the_printed_ones(int sample, int accept, double risk) =>
        Assert.Equal(risk, 1 - OperatingCurve.Binomial(0.0065, sample, accept), 5e-5);

    // Math.NET Numerics as an independent oracle.
    [Fact]
    public void Lots_agree_with_an_independent_distribution() =>
        Gen.Select(Gen.Int[1, 400], Gen.Double[0, 1], Gen.Double[0, 1], Gen.Int[0, 30]).Sample((lot, bad, share, accept) =>
        {
            var nonconforming = (int)(bad * lot);
            var sample = Math.Max(1, (int)(share * lot));
            var oracle = accept >= sample ? 1 : new MathNet.Numerics.Distributions.Hypergeometric(lot, nonconforming, sample).CumulativeDistribution(accept);
            return Math.Abs(OperatingCurve.Hypergeometric(lot, nonconforming, sample, accept) - oracle) < 1e-9;
        },
        iter: Fuzz.Times(5_000));

    // Math.NET Numerics as an independent oracle, where it has an answer: it gives none for accepting the whole sample.
    [Fact]
    public void Processes_agree_with_an_independent_distribution() =>
        Gen.Select(Gen.Int[1, 2000], Gen.Double[0.0001, 0.9999], Gen.Int[0, 60]).Where((sample, _, accept) => accept < sample).Sample(
            (sample, p, accept) => Math.Abs(OperatingCurve.Binomial(p, sample, accept) - MathNet.Numerics.Distributions.Binomial.CDF(p, sample, accept)) < 1e-10,
            iter: Fuzz.Times(5_000));

    [Fact]
    public void Large_samples_neither_overflow_nor_vanish()
    {
        Assert.Equal(0.5, OperatingCurve.Binomial(0.5, 100_001, 50_000), 1e-12);
        Assert.Equal(0.5, OperatingCurve.Hypergeometric(200_002, 100_001, 100_001, 50_000), 1e-12);
    }

    [Fact]
    public void The_curve_falls_with_quality_and_rises_with_the_acceptance_number() =>
        Gen.Select(Gen.Int[2, 300], Gen.Int[0, 20], Gen.Double[0, 0.99]).Sample((n, c, p) =>
            OperatingCurve.Binomial(p, n, c) >= OperatingCurve.Binomial(p + 0.01, n, c) - 1e-15
            && OperatingCurve.Binomial(p, n, c + 1) >= OperatingCurve.Binomial(p, n, c) - 1e-15);

    [Fact]
    public void The_fraction_accepted_undoes_the_curve() =>
        Gen.Select(Gen.Int[2, 500], Gen.Int[0, 10], Gen.Double[0.01, 0.99]).Where((n, c, _) => c < n).Sample(
            (n, c, probability) => Math.Abs(OperatingCurve.Binomial(OperatingCurve.FractionAccepted(probability, n, c), n, c) - probability) < 1e-10,
            iter: Fuzz.Times(300));

    [Fact]
    public void A_lot_and_a_fraction_must_meet_in_whole_pieces()
    {
        Assert.Equal(0.585714, OperatingCurve.Calculate(new OperatingCurveQuestion(8, 0) { Lot = 50, Fraction = 0.06 }).AcceptanceProbability, 1e-6);
        Assert.Equal("fraction", Refused(new OperatingCurveQuestion(8, 0) { Lot = 50, Fraction = 0.07 }));
    }

    [Fact]
    public void What_cannot_be_asked_names_its_field()
    {
        Assert.Equal("fraction", Refused(new OperatingCurveQuestion(8, 0)));
        Assert.Equal("lot", Refused(new OperatingCurveQuestion(8, 0) { Nonconforming = 3 }));
        Assert.Equal("nonconforming", Refused(new OperatingCurveQuestion(8, 0) { Lot = 50 }));
        Assert.Equal("nonconforming", Refused(new OperatingCurveQuestion(8, 0) { Lot = 50, Nonconforming = 51 }));
        Assert.Equal("sampleSize", Refused(new OperatingCurveQuestion(51, 0) { Lot = 50, Nonconforming = 3 }));
        Assert.Equal("sampleSize", Refused(new OperatingCurveQuestion(0, 0) { Fraction = 0.1 }));
        Assert.Equal("accept", Refused(new OperatingCurveQuestion(8, -1) { Fraction = 0.1 }));
        Assert.Equal("fraction", Refused(new OperatingCurveQuestion(8, 0) { Fraction = double.NaN }));
    }

    // Hypergeometric distribution: a lot of 20 with 2 or more bad is caught with 90 % by 14 pieces: C(18,14)/C(20,14) = 30/380 = 0.0789, 13 give 42/380 = 0.1105.
    [Fact]
    public void A_zero_acceptance_plan_is_the_smallest_that_keeps_the_risk()
    {
        var plan = ZeroAcceptance.Find(20, 0.10);

        Assert.Equal((14, 2), (plan.SampleSize, plan.Nonconforming));
        Assert.Equal(30.0 / 380, plan.Risk, 12);
    }

    [Fact]
    public void A_smaller_sample_would_not_keep_the_risk() =>
        Gen.Select(Gen.Int[1, 300], Gen.Double[0.01, 1], Gen.Double[0.01, 0.5]).Sample((lot, fraction, risk) =>
        {
            var plan = ZeroAcceptance.Find(lot, fraction, risk);
            return plan.Risk <= risk
                && (plan.SampleSize == 1 || OperatingCurve.Hypergeometric(lot, plan.Nonconforming, plan.SampleSize - 1, 0) > risk)
                && Math.Abs(OperatingCurve.Hypergeometric(lot, plan.Nonconforming, plan.SampleSize, 0) - plan.Risk) < 1e-12;
        });

    [Theory]
    [InlineData(0, 0.1, 0.1, "lot")]
    [InlineData(20, 0, 0.1, "limitingFraction")]
    [InlineData(20, 0.1, 1, "risk")]
    [InlineData(20, double.NaN, 0.1, "limitingFraction")]
    public void A_zero_acceptance_plan_needs_a_lot_a_limit_and_a_risk(int lot, double fraction, double risk, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => ZeroAcceptance.Find(lot, fraction, risk)).Field);

    private static string Refused(OperatingCurveQuestion question) => Assert.Throws<InputError>(() => OperatingCurve.Calculate(question)).Field;
}
