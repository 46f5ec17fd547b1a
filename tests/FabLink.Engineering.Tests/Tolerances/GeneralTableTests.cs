using System.Globalization;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Tolerances;

public class GeneralTableTests
{
    private const decimal JustAbove = 0.0001m;

    // ISO 2768-1:1989 Tables 1 to 3, ISO 2768-2:1989 Tables 1 to 3, ISO 13920:2023 Tables 1 to 3.
    [Theory]
    [InlineData("iso-2768-1-linear.csv", "ISO 2768-1", "linear")]
    [InlineData("iso-2768-1-broken-edges.csv", "ISO 2768-1", "radius")]
    [InlineData("iso-2768-1-angular.csv", "ISO 2768-1", "angle")]
    [InlineData("iso-2768-2-straightness-flatness.csv", "ISO 2768-2", "straightness")]
    [InlineData("iso-2768-2-straightness-flatness.csv", "ISO 2768-2", "flatness")]
    [InlineData("iso-2768-2-perpendicularity.csv", "ISO 2768-2", "perpendicularity")]
    [InlineData("iso-2768-2-symmetry.csv", "ISO 2768-2", "symmetry")]
    [InlineData("iso-13920-linear.csv", "ISO 13920", "linear")]
    [InlineData("iso-13920-angular.csv", "ISO 13920", "angle")]
    [InlineData("iso-13920-form.csv", "ISO 13920", "straightness")]
    [InlineData("iso-13920-form.csv", "ISO 13920", "flatness")]
    [InlineData("iso-13920-form.csv", "ISO 13920", "parallelism")]
    public void Every_cell_holds_over_its_range_and_on_its_upper_end(string file, string standard, string kind)
    {
        foreach (var (letter, over, upTo, value) in Cells(file))
        {
            foreach (var size in new[] { over + JustAbove, upTo ?? over * 10 })
            {
                if (value is { } expected)
                    Assert.Equal((letter, size, expected), (letter, size, Found(standard, letter, kind, size)));
                else
                    Assert.Throws<InputError>(() => Found(standard, letter, kind, size));
            }
        }
    }

    // ISO 13920:2023 Table 2, right half.
    [Fact]
    public void Welded_angles_are_also_given_as_millimetres_per_metre_of_the_shorter_leg()
    {
        foreach (var (letter, over, upTo, value) in Cells("iso-13920-angular-slope.csv"))
        {
            var leg = upTo ?? over * 2;
            Assert.Equal(value * leg / 1000, GeneralTolerances.Find("ISO 13920", letter, "angle", leg).Offset);
        }

        // ISO 13920:2023 Table 2: class B, shorter leg 300 mm: 13 mm/m · 0.3 m.
        Assert.Equal(3.9m, GeneralTolerances.Find("ISO 13920", "B", "angle", 300).Offset);
    }

    // ISO 2768-2:1989 Table 4.
    [Theory]
    [InlineData("H", 0.1)]
    [InlineData("K", 0.2)]
    [InlineData("L", 0.5)]
    public void Run_out_does_not_depend_on_the_size(string letter, double expected)
    {
        Assert.Equal((decimal)expected, Found("ISO 2768-2", letter, "run-out", 1));
        Assert.Equal((decimal)expected, Found("ISO 2768-2", letter, "run-out", 5000));
    }

    [Theory]
    // ISO 2768-1:1989 Table 1.
    [InlineData("ISO 2768-1", "m", "linear", 120, 0.3)]
    [InlineData("ISO 2768-1", "m", "linear", 120.01, 0.5)]
    [InlineData("ISO 2768-1", "c", "linear", 30, 0.5)]
    [InlineData("ISO 2768-1", "f", "linear", 1000, 0.3)]
    [InlineData("ISO 2768-1", "v", "linear", 400.5, 4)]
    [InlineData("ISO 2768-1", "m", "linear", 0.5, 0.1)]
    // ISO 2768-1:1989 Table 3: 50 mm, m: ±0°30′.
    [InlineData("ISO 2768-1", "m", "angle", 50, 0.5)]
    // ISO 13920:2023 Tables 1 and 3.
    [InlineData("ISO 13920", "B", "linear", 1500, 4)]
    [InlineData("ISO 13920", "A", "linear", 400, 1)]
    [InlineData("ISO 13920", "A", "linear", 401, 2)]
    [InlineData("ISO 13920", "F", "flatness", 2500, 6)]
    [InlineData("ISO 13920", "B", "linear", 2, 1)]
    public void A_size_on_a_boundary_belongs_to_the_lower_range(string standard, string letter, string kind, double size, double expected) =>
        Assert.Equal((decimal)expected, GeneralTolerances.Find(standard, letter, kind, (decimal)size).Deviation);

    // Reject: a table in circulation prints 0.15 and 0.2 as the first two cells of class c; ISO 2768-1:1989 Table 1 has 0.2 and 0.3.
    [Fact]
    public void The_misprint_of_class_c_is_not_ours()
    {
        Assert.NotEqual(0.15m, Found("ISO 2768-1", "c", "linear", 3));
        Assert.NotEqual(0.2m, Found("ISO 2768-1", "c", "linear", 6));
    }

    // Reject: v is not c in angles, and perpendicularity is not the flatness table (ISO 2768-1:1989 Table 3, ISO 2768-2:1989 Table 2).
    [Fact]
    public void Coarse_and_very_coarse_angles_differ_and_so_do_perpendicularity_and_flatness()
    {
        Assert.NotEqual(Found("ISO 2768-1", "c", "angle", 50), Found("ISO 2768-1", "v", "angle", 50));
        Assert.NotEqual(Found("ISO 2768-2", "K", "flatness", 100), Found("ISO 2768-2", "K", "perpendicularity", 100));
    }

    [Theory]
    [InlineData("ISO 2768-1", "m", "linear", 0.49, "from 0.5 up to and including 4000 mm")]
    [InlineData("ISO 2768-1", "m", "linear", 4000.1, "from 0.5 up to and including 4000 mm")]
    [InlineData("ISO 2768-1", "f", "linear", 2500, "from 0.5 up to and including 2000 mm")]
    [InlineData("ISO 2768-1", "v", "linear", 2, "over 3 up to and including 4000 mm")]
    [InlineData("ISO 13920", "B", "linear", 1.9, "from 2 mm without upper end")]
    [InlineData("ISO 13920", "F", "flatness", 30, "over 30 mm without upper end")]
    [InlineData("ISO 2768-2", "K", "flatness", 3001, "over 0 up to and including 3000 mm")]
    [InlineData("ISO 2768-2", "K", "flatness", 0, "over 0 up to and including 3000 mm")]
    [InlineData("ISO 2768-2", "K", "flatness", -5, "over 0 up to and including 3000 mm")]
    public void Out_of_range_is_an_error_that_names_the_range(string standard, string letter, string kind, double size, string range) =>
        Assert.Contains(range, Assert.Throws<InputError>(() => GeneralTolerances.Find(standard, letter, kind, (decimal)size)).Message, StringComparison.Ordinal);

    [Theory]
    [InlineData("ISO 2768", "m", "linear", "standard")]
    [InlineData("ISO 2768-1", "K", "linear", "class")]
    [InlineData("ISO 2768-1", "mK", "linear", "class")]
    [InlineData("ISO 2768-1", "m", "flatness", "kind")]
    [InlineData("ISO 2768-2", "K", "linear", "kind")]
    [InlineData("ISO 13920", "B", "flatness", "class")]
    [InlineData("ISO 13920", "F", "run-out", "kind")]
    [InlineData("ISO 2768-1", "m", "roughness", "kind")]
    public void What_no_table_holds_names_the_field(string standard, string letter, string kind, string field) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => GeneralTolerances.Find(standard, letter, kind, 100)).Field);

    // ISO 2768-2:1989, 5.1.2 and 5.2.1, from memory.
    [Fact]
    public void Roundness_is_bounded_by_run_out_and_parallelism_by_the_larger_of_size_and_flatness()
    {
        Assert.Equal(0.1m, GeneralTolerances.Roundness("H", 0.2m));
        Assert.Equal(0.05m, GeneralTolerances.Roundness("H", 0.05m));
        Assert.Equal(0.6m, GeneralTolerances.Parallelism("K", 0.6m, 100));
        Assert.Equal(0.2m, GeneralTolerances.Parallelism("K", 0.1m, 100));
    }

    [Theory]
    [InlineData("ISO 2768-m", "m", null)]
    [InlineData("ISO 2768-mK", "m", "K")]
    [InlineData("ISO 2768-mK-E", "m", "K")]
    [InlineData("DIN ISO 2768 - mK", "m", "K")]
    [InlineData("ISO 2768-1 m", "m", null)]
    [InlineData("ISO 2768-1:1989-m", "m", null)]
    [InlineData("ISO 2768-2 K", null, "K")]
    [InlineData("ISO 2768-K", null, "K")]
    [InlineData("EN ISO 13920-BF", "B", "F")]
    [InlineData("ISO 13920:2023 - BF", "B", "F")]
    [InlineData("ISO 13920-A", "A", null)]
    [InlineData("iso 2768-mk", "m", "K")]
    [InlineData("ISO 2768-MK", "m", "K")]
    [InlineData("en iso 13920-bf", "B", "F")]
    public void A_title_block_is_read(string text, string? size, string? form)
    {
        var general = GeneralTolerance.Parse(text);

        Assert.Equal((size, form), (general.SizeClass, general.FormClass));
        Assert.Equal(general, GeneralTolerance.Parse(general.ToString()));
    }

    [Theory]
    [InlineData("ISO 2768")]
    [InlineData("ISO 2768-x")]
    [InlineData("ISO 2768-Km")]
    [InlineData("ISO 2768-mm")]
    [InlineData("ISO 2768-1 mK")]
    [InlineData("ISO 2768-2 m")]
    [InlineData("ISO 13920-mK")]
    [InlineData("ISO 13920-FB")]
    [InlineData("ISO 9999-m")]
    [InlineData("")]
    [InlineData(null)]
    public void What_is_no_general_tolerance_is_refused(string? text) => Assert.False(GeneralTolerance.TryParse(text, out _));

    private static decimal Found(string standard, string letter, string kind, decimal size)
    {
        var answer = GeneralTolerances.Find(standard, letter, kind, size);
        Assert.Equal(kind == "angle" ? Unit.Degree : Unit.Millimetre, answer.Unit);
        Assert.Contains(standard, Assert.Single(answer.Sources), StringComparison.Ordinal);
        Assert.NotEmpty(answer.Cautions);
        // Degrees of a third (0°20′) do not end in decimal; the minutes do.
        return kind == "angle" ? decimal.Round(answer.Deviation * 60, 20) : answer.Deviation;
    }

    private static IEnumerable<(string Letter, decimal Over, decimal? UpTo, decimal? Value)> Cells(string file) =>
        PublishedFile.RowsUnderHeader(file).Select(r => (r[0], Number(r[1])!.Value, Number(r[2]), Number(r[3])));

    private static decimal? Number(string text) => text.Length == 0 ? null : decimal.Parse(text, CultureInfo.InvariantCulture);
}
