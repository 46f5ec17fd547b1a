using System.Globalization;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Sampling;

namespace FabLink.Engineering.Tests.Sampling;

public class SamplingPlanTests
{
    // ISO 2859-1:1999 Table 1 (ANSI/ASQ Z1.4 Table I).
    [Fact]
    public void Every_code_letter_holds_from_one_end_of_its_range_to_the_other()
    {
        foreach (var row in PublishedFile.RowsUnderHeader("iso-2859-1-code-letters.csv"))
        {
            var from = int.Parse(row[1], CultureInfo.InvariantCulture);
            var to = row[2].Length > 0 ? int.Parse(row[2], CultureInfo.InvariantCulture) : 10_000_000;
            Assert.Equal((row[0], from, row[3]), (row[0], from, SamplingPlans.CodeLetter(from, row[0])));
            Assert.Equal((row[0], to, row[3]), (row[0], to, SamplingPlans.CodeLetter(to, row[0])));
        }
    }

    // ISO 2859-1:1999 Table 2-A (ANSI/ASQ Z1.4 Table II-A), cell by cell; letter N of level II has the lots 35001 to 150000 and so on.
    [Fact]
    public void Every_plan_without_an_arrow_is_the_standards()
    {
        foreach (var row in PublishedFile.RowsUnderHeader("iso-2859-1-single-normal.csv").Where(r => r[3].Contains('/', StringComparison.Ordinal)))
        {
            var (lot, level) = LotOf(row[0]);
            var plan = SamplingPlans.Find(lot, level, decimal.Parse(row[2], CultureInfo.InvariantCulture));
            Assert.Equal((row[0], row[2], Math.Min(int.Parse(row[1], CultureInfo.InvariantCulture), lot), row[3]), (plan.PlanLetter, row[2], plan.SampleSize, $"{plan.Accept}/{plan.Reject}"));
        }
    }

    // ISO 2859-1:1999 Table 2-A: "use the first plan below (above) the arrow".
    [Fact]
    public void Every_arrow_ends_at_the_first_plan_in_its_direction()
    {
        var rows = PublishedFile.RowsUnderHeader("iso-2859-1-single-normal.csv");
        foreach (var row in rows.Where(r => r[3] is "down" or "up"))
        {
            var column = rows.Where(r => r[2] == row[2]).ToList();
            var at = column.FindIndex(r => r[0] == row[0]);
            var target = row[3] == "down"
                ? column.Skip(at).First(r => r[3].Contains('/', StringComparison.Ordinal))
                : column.Take(at).Last(r => r[3].Contains('/', StringComparison.Ordinal));
            var (lot, level) = LotOf(row[0]);
            Assert.Equal((row[0], row[2], target[0]), (row[0], row[2], SamplingPlans.Find(lot, level, decimal.Parse(row[2], CultureInfo.InvariantCulture)).PlanLetter));
        }
    }

    // ISO 2859-1:1999 Tables 1 and 2-A.
    [Theory]
    [InlineData(1000, "II", 1.0, "J", 80, 2)]
    [InlineData(200, "II", 1.0, "G", 50, 1)]
    [InlineData(100, "II", 1.0, "F", 13, 0)]
    [InlineData(40, "II", 1.0, "D", 13, 0)]
    // IEC 60410, AQL 0.65 %: F n = 20 c = 0, J n = 80 c = 1, N n = 500 c = 7.
    [InlineData(100, "II", 0.65, "F", 20, 0)]
    [InlineData(1000, "II", 0.65, "J", 80, 1)]
    [InlineData(100_000, "II", 0.65, "N", 500, 7)]
    public void Well_known_plans_are_found(int lot, string level, double aql, string letter, int sample, int accept)
    {
        var plan = SamplingPlans.Find(lot, level, (decimal)aql);

        Assert.Equal((letter, sample, accept, accept + 1), (plan.CodeLetter, plan.SampleSize, plan.Accept, plan.Reject));
        Assert.Equal(2, plan.Sources.Count);
        Assert.NotEmpty(plan.Cautions);
    }

    [Fact]
    public void A_plan_larger_than_the_lot_inspects_all_of_it()
    {
        var plan = SamplingPlans.Find(10, "II", 0.10m);

        Assert.Equal(10, plan.SampleSize);
        Assert.Contains(plan.Cautions, c => c.Contains("inspect all", StringComparison.Ordinal));
    }

    [Fact]
    public void A_critical_characteristic_is_never_sampled()
    {
        Assert.Equal("importance", Assert.Throws<InputError>(() => SamplingPlans.Find(200, importance: Importance.Critical)).Field);
        Assert.Equal("importance", Assert.Throws<InputError>(() => ZeroAcceptance.Find(20, 0.1, importance: Importance.Critical)).Field);
    }

    [Theory]
    [InlineData(1, "II", 1.0, "normal", "lot")]
    [InlineData(200, "IV", 1.0, "normal", "level")]
    [InlineData(200, "II", 1.1, "normal", "aql")]
    [InlineData(200, "II", 1.0, "tightened", "inspection")]
    public void What_the_tables_do_not_hold_names_its_field(int lot, string level, double aql, string inspection, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => SamplingPlans.Find(lot, level, (decimal)aql, inspection)).Field);

    private static (int Lot, string Level) LotOf(string letter)
    {
        foreach (var row in PublishedFile.RowsUnderHeader("iso-2859-1-code-letters.csv").Where(r => r[3] == letter))
            return (int.Parse(row[1], CultureInfo.InvariantCulture), row[0]);
        throw new InvalidOperationException($"No lot has the code letter {letter}.");
    }
}
