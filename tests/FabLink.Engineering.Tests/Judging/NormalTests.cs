using CsCheck;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class NormalTests
{
    // Math.NET Numerics as an independent oracle; its own tails are good to about twelve digits.
    [Fact]
    public void The_cumulative_distribution_agrees_with_an_independent_one() =>
        Gen.Double[-37, 37].Sample(z => Close(Normal.Cumulative(z), MathNet.Numerics.Distributions.Normal.CDF(0, 1, z), 1e-11), iter: Fuzz.Times(100_000));

    // Exact values by 40-digit arithmetic with mpmath (ncdf).
    [Theory]
    [InlineData(0.0, 0.5)]
    [InlineData(1.0, 0.841344746068542948585232545632)]
    [InlineData(-1.0, 0.158655253931457051414767454368)]
    [InlineData(-2.0, 0.0227501319481792072002826371665)]
    [InlineData(-5.0, 2.86651571879193911673752332875e-7)]
    [InlineData(-10.0, 7.6198530241605260659733432516e-24)]
    [InlineData(-37.5, 4.60535300958195484382796909761e-308)]
    public void Full_double_accuracy_is_reached_in_the_middle_and_in_the_tail(double z, double expected) =>
        Assert.True(Close(Normal.Cumulative(z), expected, 2e-15), $"{Normal.Cumulative(z):R} instead of {expected:R}");

    [Fact]
    public void The_quantile_undoes_the_cumulative_distribution() =>
        Gen.Double[-36, 4].Sample(z => Math.Abs(Normal.Quantile(Normal.Cumulative(z)) - z) <= 1e-11, iter: Fuzz.Times(20_000));

    // JCGM 106:2012, 7.3 and table 1: conformance probability against the distance to the limit in standard uncertainties.
    [Theory]
    [InlineData(0.80, 0.84)]
    [InlineData(0.90, 1.28)]
    [InlineData(0.95, 1.64)]
    [InlineData(0.99, 2.33)]
    [InlineData(0.999, 3.09)]
    public void Known_probabilities_belong_to_known_distances(double probability, double z)
    {
        Assert.Equal(z, Normal.Quantile(probability), 0.0051);
        Assert.Equal(probability, Conformance.Probability(new Limits(null, 100m), 100m - (decimal)Normal.Quantile(probability), 1m), 1e-9);
    }

    // JCGM 106:2012, 7.4, evaluated as Φ((T − y)/u): 1.40 and 2.2907 standard uncertainties inside one limit.
    [Theory]
    [InlineData(null, -5.40, -5.47, 0.05, 0.9192)]
    [InlineData(490.0, null, 509.7, 8.6, 0.9890)]
    [InlineData(24.90, 25.10, 25.07, 0.025, 0.8849)]
    public void The_probability_of_conformance_is_that_of_the_normal_distribution(double? lower, double? upper, double value, double u, double expected) =>
        Assert.Equal(expected, Conformance.Probability(new Limits((decimal?)lower, (decimal?)upper), (decimal)value, (decimal)u), 5e-5);

    [Fact]
    public void On_a_single_limit_the_probability_is_one_half() =>
        Assert.Equal(0.5, Conformance.Probability(new Limits(null, 12.1m), 12.1m, 0.01m));

    [Fact]
    public void Both_limits_are_counted()
    {
        // Φ(1) − Φ(−1) = 0.682689492137086.
        Assert.Equal(0.682689492137086, Conformance.Probability(new Limits(-1m, 1m), 0m, 1m), 15);
        // Far above both limits the two tails must not cancel to zero.
        Assert.True(Conformance.Probability(new Limits(-1m, 1m), 12m, 1m) > 1e-28);
    }

    [Fact]
    public void Without_uncertainty_it_is_certain_either_way()
    {
        Assert.Equal(1, Conformance.Probability(new Limits(1m, 2m), 2m, 0m));
        Assert.Equal(0, Conformance.Probability(new Limits(1m, 2m), 2.0001m, 0m));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(double.NaN)]
    public void A_quantile_needs_a_probability(double p) => Assert.Throws<InputError>(() => Normal.Quantile(p));

    private static bool Close(double found, double expected, double relative) => Math.Abs(found - expected) <= relative * Math.Abs(expected);
}
