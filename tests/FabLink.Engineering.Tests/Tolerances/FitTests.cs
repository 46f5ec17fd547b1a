using System.Globalization;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Tolerances;

public class FitTests
{
    // ISO 286-1:2010 Table 1.
    [Fact]
    public void Every_grade_holds_over_its_range_and_on_its_upper_end()
    {
        foreach (var (grade, over, upTo, value) in Cells("iso-286-1-grades.csv"))
        {
            foreach (var size in new[] { over + (over == 0 ? 1.5m : 0.001m), upTo })
                Assert.Equal((grade, size, 0m, value), (grade, size, Deviation("H" + grade[2..], size).Lower, Deviation("H" + grade[2..], size).Upper));
        }
    }

    // ISO 286-1:2010 Tables 4 and 5.
    [Fact]
    public void Every_fundamental_deviation_of_a_shaft_is_the_standards()
    {
        foreach (var (letter, over, upTo, value) in Cells("iso-286-1-shafts.csv"))
        {
            foreach (var size in new[] { over + 0.001m, upTo })
            {
                var (lower, upper) = Deviation(letter + "6", size);
                Assert.Equal((letter, size, value), (letter, size, letter is "d" or "e" or "f" or "g" or "h" ? upper : lower));
            }
        }
    }

    // ISO 286-1:2010 Table 2: EI of D to H is −es of the small letter.
    [Fact]
    public void Holes_D_to_H_mirror_their_shafts()
    {
        foreach (var (letter, over, upTo, value) in Cells("iso-286-1-shafts.csv").Where(c => c.Class is "d" or "e" or "f" or "g" or "h"))
        {
            foreach (var size in new[] { over + 0.001m, upTo })
                Assert.Equal((letter, size, -value), (letter, size, Deviation(letter.ToUpperInvariant() + "8", size).Lower));
        }
    }

    // ISO 286-1:2010 Table 3: ES = −ei + Δ with Δ = ITn − IT(n−1), above 3 mm, K M N up to IT8 and P up to IT7.
    [Fact]
    public void Holes_K_to_P_follow_the_rule_of_delta_in_every_range()
    {
        var grades = Cells("iso-286-1-grades.csv").ToArray();
        foreach (var (letter, _, upTo, value) in Cells("iso-286-1-shafts.csv").Where(c => c.Class is "k" or "m" or "n" or "p"))
        {
            foreach (var n in letter == "p" ? new[] { 6, 7 } : [6, 7, 8])
            {
                var delta = upTo <= 3 ? 0 : Grade(grades, n, upTo) - Grade(grades, n - 1, upTo);
                var expected = letter == "m" && n == 6 && upTo == 315 ? -9 : -value + delta;
                Assert.Equal((letter, n, upTo, expected), (letter, n, upTo, Deviation(letter.ToUpperInvariant() + n, upTo).Upper));
            }
        }
    }

    // ISO 286-1:2010 Table 3: the exception, −9 instead of −11.
    [Theory]
    [InlineData(250.5)]
    [InlineData(300)]
    [InlineData(315)]
    public void M6_over_250_to_315_is_an_exception_of_the_standard(double size) =>
        Assert.Equal((-41m, -9m), Deviation("M6", (decimal)size));

    // ISO 286-1:2010 Table 3, grades above 8 (N) and above 7 (P): no Δ; from memory for M and P, N as stated in the table's note.
    [Theory]
    [InlineData("N9", 25, -52, 0)]
    [InlineData("N9", 3, -29, -4)]
    [InlineData("M9", 25, -60, -8)]
    [InlineData("P8", 25, -55, -22)]
    [InlineData("P9", 50, -88, -26)]
    public void Coarser_grades_have_no_delta(string toleranceClass, double size, double lower, double upper) =>
        Assert.Equal(((decimal)lower, (decimal)upper), Deviation(toleranceClass, (decimal)size));

    // ISO 286-2:2010, hole tables, from memory.
    [Theory]
    [InlineData("K7", 25, -15, 6)]
    [InlineData("N7", 25, -28, -7)]
    [InlineData("P7", 25, -35, -14)]
    [InlineData("K7", 45, -18, 7)]
    [InlineData("N7", 45, -33, -8)]
    [InlineData("P7", 45, -42, -17)]
    [InlineData("K7", 65, -21, 9)]
    [InlineData("N7", 65, -39, -9)]
    [InlineData("P7", 65, -51, -21)]
    public void Printed_hole_limits_are_met(string toleranceClass, double size, double lower, double upper) =>
        Assert.Equal(((decimal)lower, (decimal)upper), Deviation(toleranceClass, (decimal)size));

    // ISO 286-1:2010, 4.3: js is ±IT/2; JIS B 0401:1999 prints ±10.5 for js7 over 18 to 30.
    [Fact]
    public void Js_halves_its_grade_exactly()
    {
        Assert.Equal((-10.5m, 10.5m), Deviation("js7", 25));
        Assert.Equal((-10.5m, 10.5m), Deviation("JS7", 25));
    }

    // ISO 286-2:2010: worked fits (50 H8/f7 and 25 H7/h6 are printed examples in common use).
    [Theory]
    [InlineData("25 H7/g6", 25.000, 25.021, 24.980, 24.993, 0.007, 0.041)]
    [InlineData("50 H7/p6", 50.000, 50.025, 50.026, 50.042, -0.042, -0.001)]
    [InlineData("50 H8/f7", 50.000, 50.039, 49.950, 49.975, 0.025, 0.089)]
    [InlineData("25 H7/h6", 25.000, 25.021, 24.987, 25.000, 0.000, 0.034)]
    [InlineData("25 H7/k6", 25.000, 25.021, 25.002, 25.015, -0.015, 0.019)]
    [InlineData("25 H7/n6", 25.000, 25.021, 25.015, 25.028, -0.028, 0.006)]
    [InlineData("Ø20H7/p6", 20.000, 20.021, 20.022, 20.035, -0.035, -0.001)]
    [InlineData("16 H7 / js6", 16.000, 16.018, 15.9945, 16.0055, -0.0055, 0.0235)]
    public void A_fit_gives_both_limits_and_clearances(string fit, double holeLower, double holeUpper, double shaftLower, double shaftUpper, double minimum, double maximum)
    {
        var answer = Fits.Calculate(fit);

        Assert.Equal(new Limits((decimal)holeLower, (decimal)holeUpper), answer.Hole);
        Assert.Equal(new Limits((decimal)shaftLower, (decimal)shaftUpper), answer.Shaft);
        Assert.Equal((decimal)minimum, answer.MinimumClearance);
        Assert.Equal((decimal)maximum, answer.MaximumClearance);
        Assert.NotEmpty(answer.Sources);
        Assert.NotEmpty(answer.Cautions);
    }

    // Reject: a table in circulation prints 20 p6 as +24/+37 and reads 30 in the step 30 to 50; ISO 286-1:2010 has +22/+35, and 30 is in 18 to 30.
    [Fact]
    public void The_wrong_table_of_p6_is_not_ours()
    {
        Assert.Equal((22m, 35m), Deviation("p6", 20));
        Assert.Equal(Deviation("p6", 20), Deviation("p6", 30));
    }

    [Theory]
    [InlineData("500.1 H7", "up to and including 500 mm")]
    [InlineData("0 H7", "over 0")]
    [InlineData("0.8 H14", "over 1")]
    [InlineData("0.8 N9", "over 1")]
    [InlineData("50 K9", "up to and including 3 mm")]
    [InlineData("50 H3", "grades 5 to 14")]
    [InlineData("50 H15", "grades 5 to 14")]
    [InlineData("50 U7", "none of the letters")]
    [InlineData("50 p6/H7", "comes first")]
    [InlineData("50 H7/H6", "comes first")]
    [InlineData("50 H7/p6/p6", "more than two")]
    [InlineData("50", "is not a fit")]
    [InlineData("H7/p6", "is not a fit")]
    [InlineData("", "is not a fit")]
    [InlineData(null, "is not a fit")]
    public void What_the_tables_do_not_hold_is_refused(string? fit, string reason)
    {
        var refusal = Assert.Throws<InputError>(() => Fits.Calculate(fit));

        Assert.Equal("fit", refusal.Field);
        Assert.Contains(reason, refusal.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void One_class_alone_gives_one_part()
    {
        Assert.Null(Fits.Calculate("50 H7").Shaft);
        Assert.Null(Fits.Calculate("50 p6").MinimumClearance);
    }

    // ISO 273:1979.
    [Fact]
    public void Every_clearance_hole_is_the_standards()
    {
        foreach (var row in PublishedFile.RowsUnderHeader("iso-273-clearance-holes.csv"))
        {
            foreach (var (series, text) in new[] { (HoleSeries.Fine, row[1]), (HoleSeries.Medium, row[2]), (HoleSeries.Coarse, row[3]) })
                Assert.Equal((row[0], series, Number(text)), (row[0], series, ClearanceHoles.Find(row[0], series).Hole));
        }

        // ISO 273:1979 with H13 of ISO 286-1:2010: 13.5 +0.27/0.
        Assert.Equal(new Limits(13.5m, 13.77m), ClearanceHoles.Find("M12", HoleSeries.Medium).Limits);
        Assert.Contains("M3", Assert.Throws<InputError>(() => ClearanceHoles.Find("M7", HoleSeries.Fine)).Message, StringComparison.Ordinal);
    }

    private static (decimal Lower, decimal Upper) Deviation(string toleranceClass, decimal size)
    {
        var (lower, upper) = ToleranceClass.Parse(toleranceClass).DeviationsOf(size);
        return (lower * 1000, upper * 1000);
    }

    private static decimal Grade((string Class, decimal Over, decimal UpTo, decimal Value)[] grades, int n, decimal size) =>
        grades.First(g => g.Class == $"IT{n}" && size > g.Over && size <= g.UpTo).Value;

    private static IEnumerable<(string Class, decimal Over, decimal UpTo, decimal Value)> Cells(string file) =>
        PublishedFile.RowsUnderHeader(file).Select(r => (r[0], Number(r[1]), Number(r[2]), Number(r[3])));

    private static decimal Number(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);
}
