using System.Globalization;
using CsCheck;
using FabLink.Engineering.Gauging;

namespace FabLink.Engineering.Tests.Gauging;

public class GaugeStudyTests
{
    private static readonly GaugeMeasurement[] Handbook = [.. PublishedFile.Rows("aiag-msa-figure-iii-b-15.csv")
        .SelectMany(row => row.Skip(2).Select((value, part) => new GaugeMeasurement(
            (part + 1).ToString(CultureInfo.InvariantCulture), row[0], int.Parse(row[1], CultureInfo.InvariantCulture), decimal.Parse(value, CultureInfo.InvariantCulture))))];

    // AIAG MSA, 4th edition, figure III-B 16: published with rounding of intermediate results; the digits behind are exact arithmetic.
    [Fact]
    public void The_handbooks_study_by_average_and_range()
    {
        var answer = GaugeStudies.Calculate(Handbook, GaugeStudyMethod.AverageAndRange);
        var working = answer.AverageAndRange!;

        Near(working.RangesOfPersons, 0.0005, 0.184, 0.513, 0.328);
        Near(working.MeansOfPersons, 0.00005, 0.1903, 0.0683, -0.2543);
        Near(0.3417, working.MeanRange, 0.00005);
        Near(0.4447, working.DifferenceOfMeans, 0.00005);
        Near(3.511, working.RangeOfParts, 0.0005);
        Near(0.880, working.UpperRangeLimit, 0.001);
        Near(0.20186, answer.Spread.Repeatability, 0.000005);
        Near(0.22967, answer.Spread.Reproducibility, 0.000005);
        Near(0.30577, answer.Spread.GaugeStudy, 0.000005);
        Near(1.10460, answer.Spread.PartVariation, 0.000005);
        Near(1.14613, answer.Spread.TotalVariation, 0.00001);
        Near(26.68, answer.Spread.PercentOfTotal, 0.005);
        Near(17.61, answer.Spread.Percent(answer.Spread.Repeatability), 0.005);
        Near(20.04, answer.Spread.Percent(answer.Spread.Reproducibility), 0.005);
        Near(5.09, answer.Spread.DistinctCategoriesUncut!.Value, 0.005);
        Assert.Equal(5, answer.Spread.DistinctCategories);
        Assert.Null(answer.Anova);
    }

    // AIAG MSA, 4th edition, figure III-B 15: the range 1.02 of B on part 4 is above its limit.
    [Fact]
    public void The_range_out_of_control_is_named()
    {
        var working = GaugeStudies.Calculate(Handbook, GaugeStudyMethod.AverageAndRange).AverageAndRange!;

        Assert.Equal("person B, part 4 (1.02)", Assert.Single(working.OutOfControl));
    }

    // AIAG MSA, 4th edition, table III-B 7: sums of squares, mean squares and F; pooled variances from table III-B 8.
    [Fact]
    public void The_handbooks_study_by_analysis_of_variance()
    {
        var answer = GaugeStudies.Calculate(Handbook, GaugeStudyMethod.Anova);
        var anova = answer.Anova!;

        Row(anova.Persons, 2, 3.1673, 1.58363, 34.44);
        Row(anova.Parts, 9, 88.3619, 9.81799, 213.52);
        Row(anova.Interaction, 18, 0.3590, 0.01994, 0.434);
        Assert.Equal(60, anova.Equipment.Degrees);
        Near(2.7589, anova.Equipment.SumOfSquares, 0.00005);
        Near(0.04598, anova.Equipment.MeanSquare, 0.000005);
        Near(94.6471, anova.Total.SumOfSquares, 0.00005);
        Assert.True(anova.IsPooled);
        Near(0.199933, answer.Spread.Repeatability, 0.0000005);
        Near(0.226838, answer.Spread.Reproducibility, 0.0000005);
        // Printed .302373; the square root of the printed variance .0914285 is .302371.
        Near(0.302373, answer.Spread.GaugeStudy, 0.000002);
        Near(1.042327, answer.Spread.PartVariation, 0.0000005);
        Near(1.0853, answer.Spread.TotalVariation, 0.00005);
        Near(27.8607, answer.Spread.PercentOfTotal, 0.00005);
        Near(4.8605, answer.Spread.DistinctCategoriesUncut!.Value, 0.00005);
        Assert.Equal(4, answer.Spread.DistinctCategories);
        Assert.Null(answer.AverageAndRange);
    }

    // AIAG MSA, 4th edition: the same data give 5 categories by average and range and 4 by analysis of variance.
    [Fact]
    public void The_two_methods_are_kept_apart()
    {
        Assert.Equal(5, GaugeStudies.Calculate(Handbook, GaugeStudyMethod.AverageAndRange).Spread.DistinctCategories);
        Assert.Equal(4, GaugeStudies.Calculate(Handbook, GaugeStudyMethod.Anova).Spread.DistinctCategories);
    }

    [Fact]
    public void The_sums_of_squares_add_up_whatever_the_readings() =>
        Gen.Int[-100_000, 100_000].Array[4 * 3 * 2].Sample(values =>
        {
            var anova = GaugeStudies.Calculate(Table(values, 4, 3, 2), GaugeStudyMethod.Anova).Anova!;
            var parts = anova.Persons.SumOfSquares + anova.Parts.SumOfSquares + anova.Interaction.SumOfSquares + anova.Equipment.SumOfSquares;
            return Math.Abs(parts - anova.Total.SumOfSquares) < 1e-15m * Math.Max(1, anova.Total.SumOfSquares);
        },
        iter: Fuzz.Times(500));

    [Fact]
    public void A_strong_interaction_is_not_pooled()
    {
        // Person 2 reads every other part high: the interaction is all there is.
        var readings = from part in Enumerable.Range(0, 6)
                       from person in Enumerable.Range(0, 2)
                       from trial in Enumerable.Range(0, 2)
                       select new GaugeMeasurement($"{part}", $"{person}", trial, 10m * part + (person * (part % 2) * 3m) + trial * 0.01m);
        var answer = GaugeStudies.Calculate([.. readings], GaugeStudyMethod.Anova);

        Assert.False(answer.Anova!.IsPooled);
        Assert.Equal(answer.Anova.Unpooled, answer.Spread);
        Assert.True(answer.Anova.InteractionVariation > 1);
        Assert.Contains(answer.Cautions, c => c.Contains("interact", StringComparison.Ordinal));
    }

    [Fact]
    public void A_gauge_that_does_not_spread_has_no_number_of_categories()
    {
        var readings = from part in Enumerable.Range(0, 3)
                       from person in Enumerable.Range(0, 2)
                       from trial in Enumerable.Range(0, 2)
                       select new GaugeMeasurement($"{part}", $"{person}", trial, part);
        var answer = GaugeStudies.Calculate([.. readings], GaugeStudyMethod.Anova);

        Assert.Equal(0, answer.Spread.GaugeStudy);
        Assert.Null(answer.Spread.DistinctCategories);
    }

    // AIAG MSA: 6 σ of the gauge against the tolerance.
    [Fact]
    public void A_tolerance_gives_the_share_that_the_gauge_takes() =>
        Near(6 * 0.3023715 / 4 * 100, GaugeStudies.Calculate(Handbook, GaugeStudyMethod.Anova, 4).PercentOfTolerance!.Value, 0.0001);

    [Fact]
    public void What_is_no_full_table_is_refused_and_says_where()
    {
        Assert.Contains("B; every cell needs 3", Refused(Handbook[..^1].Where(m => m is not { Person: "B", Part: "4", Trial: 2 })), StringComparison.Ordinal);
        Assert.Contains("twice", Refused([.. Handbook, Handbook[0]]), StringComparison.Ordinal);
        Assert.Contains("2 persons", Refused(Handbook.Where(m => m.Person == "A")), StringComparison.Ordinal);
        Assert.Contains("2 trials", Refused(Handbook.Where(m => m.Trial == 1)), StringComparison.Ordinal);
        Assert.Contains("at least 2 parts", Refused([]), StringComparison.Ordinal);
        Assert.Contains("names no part", Refused([Handbook[0] with { Part = " " }]), StringComparison.Ordinal);
        Assert.Contains("larger than", Refused([Handbook[0] with { Value = 1e20m }]), StringComparison.Ordinal);
    }

    [Fact]
    public void Average_and_range_stays_within_the_handbooks_constants()
    {
        var fourPersons = Handbook.Concat(Handbook.Where(m => m.Person == "A").Select(m => m with { Person = "D" }));

        Assert.Contains("2 to 3 persons", Refused(fourPersons), StringComparison.Ordinal);
        Assert.NotNull(GaugeStudies.Calculate([.. fourPersons], GaugeStudyMethod.Anova).Anova);
    }

    private static string Refused(IEnumerable<GaugeMeasurement> measurements) =>
        Assert.Throws<InputError>(() => GaugeStudies.Calculate([.. measurements], GaugeStudyMethod.AverageAndRange)).Message;

    private static GaugeMeasurement[] Table(int[] values, int parts, int persons, int trials) =>
        [.. from p in Enumerable.Range(0, parts)
            from k in Enumerable.Range(0, persons)
            from t in Enumerable.Range(0, trials)
            select new GaugeMeasurement($"{p}", $"{k}", t, values[(p * persons + k) * trials + t] / 1000m)];

    private static void Row(AnovaRow row, int degrees, double squares, double mean, double f)
    {
        Assert.Equal(degrees, row.Degrees);
        Near(squares, row.SumOfSquares, 0.00005);
        Near(mean, row.MeanSquare, 0.000005);
        Near(f, row.F!.Value, f > 1 ? 0.005 : 0.0005);
    }

    private static void Near(IReadOnlyList<decimal> found, double tolerance, params double[] expected)
    {
        Assert.Equal(expected.Length, found.Count);
        for (var i = 0; i < expected.Length; i++)
            Near(expected[i], found[i], tolerance);
    }

    private static void Near(double expected, decimal found, double tolerance) => Assert.Equal(expected, (double)found, tolerance);
}
