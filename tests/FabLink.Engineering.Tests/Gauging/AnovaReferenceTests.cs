using System.Globalization;
using FabLink.Engineering.Gauging;

namespace FabLink.Engineering.Tests.Gauging;

/// <summary>
/// The certified sets have one factor. It takes the place of the parts, and its replicates are dealt to several persons: what lies between
/// persons, in the interaction and in the equipment together is then the certified “within”.
/// </summary>
public class AnovaReferenceTests
{
    // NIST Statistical Reference Datasets (StRD), analysis of variance, AtmWtAg: average difficulty, 7 constant leading digits.
    [Fact]
    public void The_atomic_weight_of_silver_is_met_to_14_digits() => Meets("atmwtag.csv", persons: 4, times: 1);

    // NIST StRD, SiRstv: lower difficulty. Five replicates cannot be dealt evenly: each reading is taken twice, which doubles every
    // certified sum of squares.
    [Fact]
    public void The_resistivity_of_silicon_is_met_to_14_digits() => Meets("sirstv.csv", persons: 5, times: 2);

    // NIST StRD, SmLs01, SmLs04 and SmLs07 (S. D. Simon, J. P. Lesage, Computational Statistics and Data Analysis 8, 1989): 9 treatments of
    // 21 replicates on 0, 1e6 and 1e12; certified sums of squares 1.68 between and 1.80 within, F 21, whatever the offset.
    [Theory]
    [InlineData(0)]
    [InlineData(1e6)]
    [InlineData(1e12)]
    public void Constant_leading_digits_cost_nothing(double offset)
    {
        var treatments = Enumerable.Range(0, 9).Select(treatment =>
        {
            var mean = (decimal)offset + (treatment == 0 ? 1.4m : treatment % 2 == 1 ? 1.3m : 1.5m);
            return Enumerable.Range(0, 21).Select(i => i == 0 ? mean : i % 2 == 1 ? mean - 0.1m : mean + 0.1m).ToArray();
        }).ToArray();

        Meets(treatments, persons: 3, times: 1, (8, 1.68m, 180, 1.80m, 21m));
    }

    private static void Meets(string file, int persons, int times)
    {
        var rows = PublishedFile.Rows(Path.Combine("nist-strd", file));
        var certified = rows[0].Select(text => decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture)).ToArray();
        var treatments = Enumerable.Range(0, rows[1].Length)
            .Select(column => rows[1..].Select(row => decimal.Parse(row[column], CultureInfo.InvariantCulture)).ToArray()).ToArray();
        Meets(treatments, persons, times, ((int)certified[0], certified[1], (int)certified[2], certified[3], certified[4]));
    }

    private static void Meets(decimal[][] treatments, int persons, int times, (int Between, decimal SquaresBetween, int Within, decimal SquaresWithin, decimal F) certified)
    {
        var readings = treatments.SelectMany((values, part) => values.SelectMany((value, i) => Enumerable.Range(0, times)
            .Select(again => new GaugeMeasurement($"{part}", $"{i % persons}", (i * times) + again, value))));
        var anova = GaugeStudies.Calculate([.. readings], GaugeStudyMethod.Anova).Anova!;
        var between = anova.Parts.SumOfSquares / times;
        var within = (anova.Persons.SumOfSquares + anova.Interaction.SumOfSquares + anova.Equipment.SumOfSquares) / times;

        Assert.Equal(certified.Between, anova.Parts.Degrees);
        Agree(certified.SquaresBetween, between);
        Agree(certified.SquaresWithin, within);
        Agree(certified.SquaresBetween + certified.SquaresWithin, anova.Total.SumOfSquares / times);
        Agree(certified.F, between / certified.Between / (within / certified.Within));
    }

    // Certified to 15 digits, the last of them rounded.
    private static void Agree(decimal certified, decimal found) =>
        Assert.True(Math.Abs(found - certified) <= 1e-14m * certified, $"{found} instead of {certified}");
}
