using CsCheck;
using FabLink.Engineering.Gauging;

namespace FabLink.Engineering.Tests.Gauging;

public class UncertaintyTests
{
    // JCGM 100:2008, H.1: end gauge of 50 mm, in nm; sensitivities of δα and δθ are −l_s·θ and −l_s·α_s.
    private static readonly UncertaintyInput[] EndGauge =
    [
        new("calibration of the standard", 25, 1, 18),
        new("repeated observations", 5.8, 1, 24),
        new("comparator, random", 3.9, 1, 5),
        new("comparator, systematic", 6.7, 1, 8),
        UncertaintyInput.Rectangular("difference of expansion coefficients", 1e-6, -50.000623e6 * -0.1, 50),
        UncertaintyInput.Rectangular("difference of temperatures", 0.05, -50.000623e6 * 11.5e-6, 2),
    ];

    // JCGM 100:2008, H.1.4 to H.1.6: u_c = 32 nm, ν_eff = 16, t99 = 2.92, U99 = 93 nm (from the rounded u_c).
    [Fact]
    public void The_end_gauge_of_the_guide()
    {
        var answer = UncertaintyBudget.Combine(EndGauge, 0.99);

        Assert.Equal(32, answer.Combined, 0.5);
        Assert.Equal(31.66, answer.Combined, 0.02);
        Assert.Equal(16.75, answer.EffectiveDegrees, 0.2);
        Assert.Equal(2.92, answer.CoverageFactor, 0.005);
        Assert.Equal(93, answer.Expanded, 1.0);
    }

    // JCGM 100:2008, H.1.3.2 and H.1.3.4: u(d) = 9.7 nm; rectangular ±0.05 °C over 575 nm/°C gives 16.6 nm, ±1e-6 per °C gives 2.9 nm.
    [Fact]
    public void Its_parts_are_those_of_the_guide()
    {
        Assert.Equal(9.7, UncertaintyBudget.Combine(EndGauge[1..4]).Combined, 0.05);
        Assert.Equal(2.9, EndGauge[4].Contribution, 0.05);
        Assert.Equal(16.6, EndGauge[5].Contribution, 0.05);
        // JCGM 100:2008, H.1.3.4: amplitude 0.5 °C gives 0.35 °C, with 0.2 °C of the mean 0.41 °C.
        Assert.Equal(0.41, UncertaintyBudget.Combine([new("mean", 0.2), UncertaintyInput.Cyclic("cycle", 0.5)]).Combined, 0.005);
    }

    // JCGM 100:2008, H.1.7: with the second-order terms u_c = 34 nm.
    [Fact]
    public void Second_order_terms_are_those_of_the_guide()
    {
        UncertaintyInput[] all =
        [
            .. EndGauge,
            UncertaintyInput.Product("δα·θ", 1e-6 / Math.Sqrt(3), 0.41, 50.000623e6),
            UncertaintyInput.Product("α_s·δθ", 2e-6 / Math.Sqrt(3), 0.05 / Math.Sqrt(3), 50.000623e6),
        ];

        Assert.Equal(34, UncertaintyBudget.Combine(all).Combined, 0.5);
    }

    // JCGM 100:2008, H.3, table H.6: thermometer corrections against temperature.
    private static readonly double[] Readings = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    private static readonly double[] Corrections = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];

    // JCGM 100:2008, H.3.2 and H.3.3: y1 = −0.1712(29) °C, y2 = 0.00218(67), r = −0.930, s = 0.0035 °C, b(30 °C) = −0.1494(41) °C, ν = 9.
    [Fact]
    public void The_thermometer_of_the_guide()
    {
        var line = CalibrationLine.Fit(Readings, Corrections, 20);

        Assert.Equal(-0.1712, line.Intercept, 0.00005);
        Assert.Equal(0.0029, line.InterceptUncertainty, 0.00005);
        Assert.Equal(0.00218, line.Slope, 0.000005);
        Assert.Equal(0.00067, line.SlopeUncertainty, 0.000005);
        Assert.Equal(-0.930, line.Correlation, 0.0005);
        Assert.Equal(0.0035, line.Residual, 0.00005);
        Assert.Equal(1.10096583e-4, line.Residual * line.Residual * 9, 5e-13);
        Assert.Equal(-0.1494, line.At(30).Value, 0.00005);
        Assert.Equal(0.0041, line.At(30).StandardUncertainty, 0.00005);
        Assert.Equal(9, line.Degrees);
    }

    [Fact]
    public void A_line_needs_three_points_that_are_not_one_above_the_other()
    {
        Assert.Throws<InputError>(() => CalibrationLine.Fit([1, 2], [1, 2], 0));
        Assert.Throws<InputError>(() => CalibrationLine.Fit([1, 1, 1], [1, 2, 3], 0));
        Assert.Throws<InputError>(() => CalibrationLine.Fit([1, 2, 3], [1, 2], 0));
    }

    // Math.NET Numerics as an independent oracle.
    [Fact]
    public void Students_t_agrees_with_an_independent_one() =>
        Gen.Select(Gen.Double[0.01, 0.999], Gen.Double[1, 200]).Sample((probability, degrees) =>
        {
            var t = Distributions.StudentCoverage(probability, degrees);
            return Math.Abs(MathNet.Numerics.Distributions.StudentT.CDF(0, 1, degrees, t) - (1 + probability) / 2) < 1e-10;
        },
        iter: Fuzz.Times(2_000));

    // Math.NET Numerics as an independent oracle.
    [Fact]
    public void Fishers_F_agrees_with_an_independent_one() =>
        Gen.Select(Gen.Double[0.01, 20], Gen.Int[1, 100], Gen.Int[1, 100]).Sample(
            (f, a, b) => Math.Abs(Distributions.FisherUpperTail(f, a, b) - (1 - MathNet.Numerics.Distributions.FisherSnedecor.CDF(a, b, f))) < 1e-10,
            iter: Fuzz.Times(5_000));

    [Fact]
    public void Without_limited_degrees_coverage_is_that_of_the_normal_distribution() =>
        Assert.Equal(1.959964, UncertaintyBudget.Combine([new("only", 2)], 0.95).CoverageFactor, 1e-6);

    [Fact]
    public void A_budget_that_cannot_be_names_the_row()
    {
        Assert.Equal("inputs", Field([]));
        Assert.Equal("inputs/1/name", Field([new("a", 1), new("a", 1)]));
        Assert.Equal("inputs/0/standardUncertainty", Field([new("a", -1)]));
        Assert.Equal("inputs/0/standardUncertainty", Field([new("a", double.NaN)]));
        Assert.Equal("inputs/0/degrees", Field([new("a", 1, 1, 0)]));
        Assert.Throws<InputError>(() => UncertaintyBudget.Combine([new("a", 1)], 1));
    }

    private static string Field(UncertaintyInput[] inputs) => Assert.Throws<InputError>(() => UncertaintyBudget.Combine(inputs)).Field;
}
