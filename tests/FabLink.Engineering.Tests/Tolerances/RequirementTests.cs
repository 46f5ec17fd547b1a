using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Tolerances;

public class RequirementTests
{
    private static readonly GeneralTolerance Medium = GeneralTolerance.Parse("ISO 2768-mK");

    [Theory]
    [InlineData("12 ±0.1", Unit.Millimetre, 11.9, 12.1, "12 ±0.1")]
    [InlineData("12±0,1", Unit.Millimetre, 11.9, 12.1, "12 ±0,1")]
    [InlineData("12 +/-0.1", Unit.Millimetre, 11.9, 12.1, "12 ±0.1")]
    [InlineData("12 +0.2/-0.1", Unit.Millimetre, 11.9, 12.2, "12 +0.2/-0.1")]
    [InlineData("12 -0.1/+0.2", Unit.Millimetre, 11.9, 12.2, "12 +0.2/-0.1")]
    [InlineData("12 +0.2 -0.1", Unit.Millimetre, 11.9, 12.2, "12 +0.2/-0.1")]
    [InlineData("12 0/-0.1", Unit.Millimetre, 11.9, 12, "12 0/-0.1")]
    [InlineData("12 +0.1/0", Unit.Millimetre, 12, 12.1, "12 +0.1/0")]
    [InlineData("12 +0.3/+0.1", Unit.Millimetre, 12.1, 12.3, "12 +0.3/+0.1")]
    [InlineData("12 +0.2", Unit.Millimetre, 12, 12.2, "12 +0.2")]
    [InlineData("12 -0.1", Unit.Millimetre, 11.9, 12, "12 -0.1")]
    [InlineData("12.0-12.4", Unit.Millimetre, 12.0, 12.4, "12.0-12.4")]
    [InlineData("12,0 – 12,4", Unit.Millimetre, 12.0, 12.4, "12,0-12,4")]
    [InlineData("12 to 12.4", Unit.Millimetre, 12.0, 12.4, "12-12.4")]
    [InlineData("-0.2 to -0.1", Unit.Millimetre, -0.2, -0.1, "-0.2 to -0.1")]
    [InlineData(".750 ±.005 in", Unit.Millimetre, 18.923, 19.177, ".750 ±.005 in")]
    [InlineData(".750\" ±.005\"", Unit.Millimetre, 18.923, 19.177, ".750 ±.005 in")]
    [InlineData(".750 ±.005", Unit.Inch, 18.923, 19.177, ".750 ±.005")]
    [InlineData("R5 ±0.5", Unit.Millimetre, 4.5, 5.5, "R5 ±0.5")]
    [InlineData("10× Ø13.5 +0.27/0", Unit.Millimetre, 13.5, 13.77, "10× Ø13.5 +0.27/0")]
    [InlineData("4x R5 ±0.5", Unit.Millimetre, 4.5, 5.5, "4× R5 ±0.5")]
    [InlineData("45° ±0°30'", Unit.Millimetre, 160200, 163800, "45° ±0°30'")]
    [InlineData("45°15' ±30'", Unit.Degree, 161100, 164700, "45°15' ±30'")]
    [InlineData("45 ±0.5", Unit.Degree, 160200, 163800, "45° ±0.5°")]
    [InlineData("93°06'12\" +0°0'30\"/0", Unit.Degree, 335172, 335202, "93°06'12\" +0°0'30\"/0°")]
    // 92°10'30" are 331830 seconds of arc, 15' are 900.
    [InlineData("92° 10' 30\" ±0°15'", Unit.Millimetre, 330930, 332730, "92°10'30\" ±0°15'")]
    [InlineData("92° 10′ ±0° 15′", Unit.Degree, 330900, 332700, "92°10' ±0°15'")]
    [InlineData("45° 0/-0° 30'", Unit.Degree, 160200, 162000, "45° 0°/-0°30'")]
    [InlineData("45° 30\" to 45° 1'", Unit.Degree, 162030, 162060, "45°30\"-45°1'")]
    [InlineData("50 ±5 µm", Unit.Millimetre, 0.045, 0.055, "50 ±5 µm")]
    public void What_people_write_is_understood_and_printed_back(string text, Unit unit, double lower, double upper, string printed)
    {
        var requirement = Requirement.Parse(text, unit, null);

        Assert.Equal((decimal)lower, requirement.Limits.Lower);
        Assert.Equal((decimal)upper, requirement.Limits.Upper);
        Assert.Equal(printed, requirement.ToString());
        Assert.Equal(requirement, Requirement.Parse(printed, unit, null));
    }

    [Theory]
    [InlineData("Ø14 max", "Ø14 max")]
    [InlineData("max Ø14", "Ø14 max")]
    [InlineData("4x MIN. R3", "4× R3 min")]
    [InlineData("≤ Ø.5 in", "Ø.5 in max")]
    [InlineData("max: 0.5 mm", "max 0.5 mm")]
    public void One_limit_of_a_diameter_or_radius_has_its_sign_before_the_number_as_on_a_drawing(string written, string printed)
    {
        var requirement = Requirement.Parse(written, Unit.Millimetre, null);

        Assert.Equal(printed, requirement.ToString());
        Assert.Equal(requirement, Requirement.Parse(printed, Unit.Millimetre, null));
    }

    [Theory]
    [InlineData("max 0.5", null, 0.5)]
    [InlineData("0.5 max.", null, 0.5)]
    [InlineData("≤0,5", null, 0.5)]
    [InlineData("MIN 40", 40.0, null)]
    [InlineData(">= 40 mm", 40.0, null)]
    public void One_limit_leaves_the_other_side_open(string text, double? lower, double? upper)
    {
        var limits = Requirement.Parse(text, Unit.Millimetre, null).Limits;

        Assert.Equal((decimal?)lower, limits.Lower);
        Assert.Equal((decimal?)upper, limits.Upper);
    }

    [Fact]
    public void A_fit_takes_its_limits_from_the_standard()
    {
        var bore = Requirement.Parse("Ø50 H7", Unit.Millimetre, null);

        Assert.Equal(new Limits(50m, 50.025m), bore.Limits);
        Assert.Equal("Ø50 H7", bore.ToString());
        Assert.Equal(50m, bore.Nominal);
        Assert.Contains("ISO 286-1:2010", bore.Sources[0], StringComparison.Ordinal);
    }

    [Fact]
    public void A_size_without_tolerance_takes_the_general_one_of_the_drawing()
    {
        var size = Assert.IsType<GeneralSize>(Requirement.Parse("120", Unit.Millimetre, Medium));

        Assert.Equal(new Limits(119.7m, 120.3m), size.Limits);
        Assert.Equal("ISO 2768-mK", size.General.ToString());
        Assert.Equal("120", size.ToString());
    }

    [Fact]
    public void A_radius_under_ISO_2768_takes_the_table_of_broken_edges() =>
        Assert.Equal(new Limits(9m, 11m), Requirement.Parse("R10", Unit.Millimetre, Medium).Limits);

    [Fact]
    public void An_angle_under_a_general_tolerance_goes_by_its_shorter_leg()
    {
        var angle = Requirement.Parse("45° (leg 50)", Unit.Millimetre, Medium);

        Assert.Equal(new Limits(160200m, 163800m), angle.Limits);
        Assert.Equal("45° (leg 50)", angle.ToString());
    }

    [Fact]
    public void Attributes_and_notes_have_no_limits()
    {
        Assert.Equal("go/no-go: thread M12-6H", Requirement.Parse("Go/No-Go: thread M12-6H", Unit.None, null).ToString());
        Assert.False(Requirement.Parse("note: break all edges", Unit.Millimetre, null).IsMeasured);
        Assert.IsType<NoteOnly>(Requirement.Parse("deburr", Unit.None, null));
    }

    // ISO 1101, ISO 2692: the frame of a position with a material modifier.
    [Theory]
    [InlineData("⌖ Ø0.75 M (hole 12)", "⌖ Ø0.75 Ⓜ (hole 12)")]
    [InlineData("10× ⌖ Ø0.75 Ⓜ (hole 12)", "10× ⌖ Ø0.75 Ⓜ (hole 12)")]
    [InlineData("⌖ .03 in LMC (pin 7)", "⌖ .03 Ⓛ in (pin 7)")]
    [InlineData("⌖Ø0,5 (L)(pin 7)", "⌖ Ø0,5 Ⓛ (pin 7)")]
    [InlineData("⌖ Ø0.75", "⌖ Ø0.75")]
    public void A_position_names_its_modifier_and_the_size_behind_it(string written, string printed)
    {
        var position = Assert.IsType<PositionWithin>(Requirement.Parse(written, Unit.Millimetre, null));

        Assert.Equal(printed, position.ToString());
        Assert.Equal(printed, Requirement.Parse(printed, Unit.Millimetre, null).ToString());
        Assert.Equal(new Limits(null, position.Width.Base), position.Limits);
    }

    [Theory]
    [InlineData("", 0)]
    [InlineData("12 ±", 4)]
    [InlineData("12 ±0.1x", 7)]
    [InlineData("12 ±-0.1", 4)]
    [InlineData("12 ±0", 4)]
    [InlineData("122 ±0.x", 7)]
    [InlineData("12.4-12.0", 5)]
    [InlineData("1.234,5 ±1", 0)]
    [InlineData("12 H7/g6", 5)]
    [InlineData("12 Q7", 3)]
    [InlineData("600 H7", 0)]
    [InlineData("12", 2)]
    [InlineData("(120)", 0)]
    [InlineData("2×45°", 0)]
    [InlineData("12 ±0.1 in mm", 11)]
    [InlineData("45° ±0°75'", 5)]
    [InlineData("12 +0.2/0.1", 8)]
    [InlineData("abc", 0)]
    [InlineData("45° ±0.1 rad", 9)]
    [InlineData("⌖ Ø0.75 M", 8)]
    [InlineData("⌖ Ø0.75 (hole 12)", 8)]
    [InlineData("⌖ Ø0.75 M (hole x)", 16)]
    [InlineData("⌖ Ø0.75 M (hole 12", 18)]
    [InlineData("Ø⌖ 0.75", 3)]
    [InlineData("⌖ Ø-0.75", 3)]
    [InlineData("⌖ 45°", 2)]
    [InlineData("0.1 rad ±0°30'", 4)]
    [InlineData("45° 30", 4)]
    [InlineData("45° 30 ±1°", 4)]
    [InlineData("45° 30° ±1°", 4)]
    [InlineData("45° 75' ±1°", 0)]
    [InlineData("15\" rad", 0)]
    [InlineData("0.1 ±15\" rad", 5)]
    public void What_is_not_understood_names_the_character(string text, int position)
    {
        Assert.False(Requirement.TryParse(text, Unit.Millimetre, null, out _, out var error));
        Assert.Equal(position, error!.Position);
    }
}
