using CsCheck;
using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tests.Quantities;

public class QuantityTests
{
    private static readonly Unit[] ExactUnits = [Unit.Millimetre, Unit.Micrometre, Unit.Inch, Unit.Mil, Unit.Degree, Unit.None];

    // 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
    [Fact]
    public void An_inch_is_25_4_millimetres_and_a_mil_is_25_4_micrometres()
    {
        Assert.Equal(25.4m, Length.FromInches(1).Millimetres);
        Assert.Equal(Length.FromMicrometres(25.4m), Length.FromMils(1));
        Assert.Equal(1m, Length.FromMillimetres(25.4m).Inches);
    }

    [Fact]
    public void Twenty_minutes_are_exactly_1200_seconds_of_arc()
    {
        Assert.Equal(1200m, Angle.FromDegreesMinutesSeconds(0, 20).ArcSeconds);
        Assert.Equal(1.25m, Angle.FromDegreesMinutesSeconds(1, 15).Degrees);
        Assert.Equal(-1.25m, Angle.FromDegreesMinutesSeconds(-1, 15).Degrees);
        Assert.Throws<InputError>(() => Angle.FromDegreesMinutesSeconds(1, 60));
    }

    // 1 mrad = 3.4377′ (π rad = 180°).
    [Fact]
    public void A_radian_is_180_degrees_over_pi()
    {
        Assert.Equal(3.4377m, decimal.Round(Angle.FromRadians(0.001m).ArcSeconds / 60, 4));
        Assert.Equal(Math.PI / 2, Angle.FromDegrees(90).Radians, 15);
        Assert.Equal(1m, decimal.Round(Units.FromBase(Units.ToBase(1, Unit.Radian), Unit.Radian), 25));
    }

    [Fact]
    public void Every_unit_but_the_radian_converts_there_and_back_without_a_trace() =>
        Gen.Select(Gen.Long[-999_999_999_999_999, 999_999_999_999_999], Gen.Int[0, 9], Gen.Int[0, ExactUnits.Length - 1].Select(i => ExactUnits[i]))
            .Sample((digits, scale, unit) =>
            {
                var value = new decimal((int)digits, (int)(Math.Abs(digits) >> 32), 0, digits < 0, (byte)scale);
                return Units.FromBase(Units.ToBase(value, unit), unit) == value;
            },
            iter: Fuzz.Times(200_000));

    [Fact]
    public void Sums_of_inches_are_exact() =>
        Gen.Select(Gen.Int, Gen.Int).Sample(
            (a, b) => Length.FromInches(a / 10_000m) + Length.FromInches(b / 10_000m) == Length.FromInches(((long)a + b) / 10_000m), iter: Fuzz.Times(100_000));

    [Theory]
    [InlineData("mm", Unit.Millimetre)]
    [InlineData("µm", Unit.Micrometre)]
    [InlineData("μm", Unit.Micrometre)]
    [InlineData("um", Unit.Micrometre)]
    [InlineData("in", Unit.Inch)]
    [InlineData("\"", Unit.Inch)]
    [InlineData("Inch", Unit.Inch)]
    [InlineData("mil", Unit.Mil)]
    [InlineData("deg", Unit.Degree)]
    [InlineData("°", Unit.Degree)]
    [InlineData("dms", Unit.DegreeMinuteSecond)]
    [InlineData(" rad ", Unit.Radian)]
    public void Units_are_read_as_people_write_them(string text, Unit expected)
    {
        Assert.True(Units.TryParse(text, out var unit));
        Assert.Equal(expected, unit);
    }

    [Theory]
    [InlineData("furlong")]
    [InlineData("")]
    [InlineData(null)]
    public void What_is_no_unit_is_refused(string? text) => Assert.False(Units.TryParse(text, out _));

    [Fact]
    public void A_length_has_no_angle_in_it()
    {
        Assert.Throws<InputError>(() => Length.From(1, Unit.Degree));
        Assert.False(Units.AreOfOneKind(Unit.Inch, Unit.Degree));
        Assert.True(Units.AreOfOneKind(Unit.Radian, Unit.DegreeMinuteSecond));
        Assert.False(Units.AreOfOneKind(Unit.None, Unit.Millimetre));
    }

    [Fact]
    public void What_is_too_large_is_refused_rather_than_overflowing() =>
        Assert.Throws<InputError>(() => Units.ToBase(decimal.MaxValue, Unit.Inch));

    [Theory]
    [InlineData("12", 12)]
    [InlineData(" 12.50 ", 12.5)]
    [InlineData("12,5", 12.5)]
    [InlineData(".750", 0.75)]
    [InlineData("12.", 12)]
    [InlineData("-0,25", -0.25)]
    [InlineData("\u22120.25", -0.25)]
    [InlineData("+3", 3)]
    [InlineData("1,234", 1.234)]
    public void One_mark_is_the_decimal_mark(string text, double expected)
    {
        Assert.True(NumberText.TryParse(text, out var value));
        Assert.Equal((decimal)expected, value);
    }

    [Theory]
    [InlineData("1.234,5", "more than one decimal mark")]
    [InlineData("1,234.5", "more than one decimal mark")]
    [InlineData("1.234.567", "more than one decimal mark")]
    [InlineData("1 234,5", "blank inside")]
    [InlineData("0.475 in", "only the number")]
    [InlineData("12.05 ±0.002", "only the number")]
    [InlineData("", "missing")]
    [InlineData("-", "no digits")]
    [InlineData(".", "no digits")]
    [InlineData("NaN", "does not belong")]
    [InlineData("∞", "does not belong")]
    [InlineData("1e5", "character 2")]
    [InlineData("45°10", "degrees, minutes and seconds with their signs")]
    [InlineData("1-2", "character 2")]
    [InlineData("１２", "does not belong")]
    [InlineData("0.1234567890123456789012345", "more than 24 digits")]
    public void What_could_be_read_two_ways_or_none_is_refused_with_its_reason(string text, string reason)
    {
        Assert.False(NumberText.TryParse(text, out _, out var refusal));
        Assert.Contains(reason, refusal, StringComparison.Ordinal);
    }

    [Fact]
    public void A_number_keeps_the_zeros_it_was_written_with()
    {
        Assert.True(NumberText.TryParse("1.500", out var value));
        Assert.Equal("1.500", value.ToString(System.Globalization.CultureInfo.InvariantCulture));
    }

    [Theory]
    [InlineData("45°", 162000)]
    [InlineData("45°15'", 162900)]
    [InlineData("0°30'", 1800)]
    [InlineData("-0°30'", -1800)]
    [InlineData("93°06'12\"", 335172)]
    [InlineData("93° 06′ 12.5″", 335172.5)]
    [InlineData("45,5°", 163800)]
    [InlineData("20'", 1200)]
    public void Angles_are_read_as_drawings_write_them(string text, double seconds)
    {
        Assert.True(AngleText.TryParse(text, out var value));
        Assert.Equal((decimal)seconds, value);
    }

    [Theory]
    [InlineData("45")]
    [InlineData("45°60'")]
    [InlineData("45°10\"70'")]
    [InlineData("45.5°30'")]
    [InlineData("15'45°")]
    [InlineData("°")]
    [InlineData("")]
    [InlineData("45°x")]
    public void What_is_no_angle_is_refused(string text)
    {
        Assert.False(AngleText.TryParse(text, out _, out var refusal));
        Assert.NotEmpty(refusal!);
    }

    // 25' are 0.41666…°: divided and multiplied again, a speck is left in the 25th place of a decimal.
    [Theory]
    [InlineData("1500", "0°25'")]
    [InlineData("1200", "0°20'")]
    [InlineData("325200", "90°20'")]
    [InlineData("3602", "1°00'02\"")]
    public void What_went_through_degrees_is_written_without_dust(string seconds, string text) =>
        Assert.Equal(text, AngleText.Format(decimal.Parse(seconds, System.Globalization.CultureInfo.InvariantCulture) / 3600 * 3600));

    // 1° is 3600": 160800" are 44.666…°, which no decimal ends; 160200" are 44.5°.
    [Theory]
    [InlineData("160800", "44°40'")]
    [InlineData("160200", "44.5°")]
    [InlineData("-0.36", "-0.0001°")]
    [InlineData("1", "0°00'01\"")]
    [InlineData("162000", "45°")]
    public void Degrees_that_end_are_decimal_and_others_are_not(string seconds, string text) =>
        Assert.Equal(text, AngleText.FormatDegrees(decimal.Parse(seconds, System.Globalization.CultureInfo.InvariantCulture)));

    [Fact]
    public void An_angle_in_degrees_printed_is_read_as_itself() =>
        Gen.Int[-4_000_000, 4_000_000].Sample(n => AngleText.TryParse(AngleText.FormatDegrees(n / 4m), out var back) && back == n / 4m, iter: Fuzz.Times(50_000));

    [Fact]
    public void An_angle_printed_is_read_as_itself() =>
        Gen.Int[-4_000_000, 4_000_000].Sample(n => AngleText.TryParse(AngleText.Format(n / 4m), out var back) && back == n / 4m, iter: Fuzz.Times(50_000));
}
