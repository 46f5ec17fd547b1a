using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports;

namespace FabLink.Portal.Tests.Reports;

/// <summary>Values and their uncertainties as they are typed; 1 in is 25.4 mm exactly.</summary>
public sealed class TypedValuesTests
{
    [Theory]
    [InlineData("4.728 ±.002 in", "", "120.0912", "0.0508")]
    [InlineData("4.728 in ±.002", "", "120.0912", "0.0508")]
    [InlineData("120.1 mm", ".05", "120.1", "0.05")]
    [InlineData("4.728 ±.002\"", "", "120.0912", "0.0508")]
    [InlineData("4.728 in", "0.05 mm", "120.0912", "0.05")]
    [InlineData("120.1 mm +/- .002 in", "", "120.1", "0.0508")]
    [InlineData("120,1 ±0,05", "", "120.1", "0.05")]
    [InlineData("120,1", "0,05", "120.1", "0.05")]
    public void Lengths_share_a_unit_where_only_one_of_them_names_it(string value, string own, string mm, string uncertainty) =>
        AssertRead("120 ±0.5", value, own, mm, uncertainty);

    // The field of the uncertainty shows mm: beside inches or micrometres a bare number there is either, and a guess would be a verdict.
    [Theory]
    [InlineData("4.728 in", ".002", ".002 in or .002 mm")]
    [InlineData("4.728\"", "±.002", ".002 in or .002 mm")]
    [InlineData("120490 µm", "0.1", "0.1 µm or 0.1 mm")]
    public void A_bare_uncertainty_in_its_own_field_beside_another_unit_is_asked_for(string value, string own, string either)
    {
        var row = Assert.Single(CharacteristicReader.Read([new() { Balloon = "1", Requirement = "120 ±0.5", Stages = "tack" }], "mm", null).Characteristics);
        var read = TypedValues.Read([row], new KeepDraft.Draft(new() { [KeepDraft.KeyOf(row.Id, 1)] = new(value, own, "") }, "", ""));
        Assert.Empty(read.Values);
        Assert.Contains(either, Assert.Single(read.Problems).Message, StringComparison.Ordinal);
    }

    // 90° read as 9.01 has lost its mark; 900' would be 15°, and no mark makes it 90°.
    [Fact]
    public void An_angle_that_lost_its_decimal_mark_is_looked_at_again()
    {
        var row = Assert.Single(CharacteristicReader.Read([new() { Balloon = "2", Requirement = "90° ±0°30'", Stages = "tack" }], "mm", null).Characteristics);
        TypedValues.Result Of(string value) => TypedValues.Read([row], new KeepDraft.Draft(new() { [KeepDraft.KeyOf(row.Id, 1)] = new(value, "0.1", "") }, "", ""));
        Assert.Contains("decimal mark one place to the right", Assert.Single(Of("9.01").Odd).Message, StringComparison.Ordinal);
        Assert.Empty(Of("91").Odd);
        Assert.Empty(Of("15°").Odd);
    }

    // Base units of an angle are seconds of arc: 45°30' is 163800, 6' is 360, 0.1° is 360.
    [Theory]
    [InlineData("45°30' ±6'", "", "163800", "360")]
    [InlineData("45°30'", "0.1", "163800", "360")]
    [InlineData("45° 30' ±0° 6'", "", "163800", "360")]
    [InlineData("45.5", "6'", "163800", "360")]
    public void Minutes_beside_degrees_name_themselves(string value, string own, string seconds, string uncertainty) =>
        AssertRead("45° ±1°", value, own, seconds, uncertainty);

    private static void AssertRead(string requirement, string value, string own, string number, string uncertainty)
    {
        var row = Assert.Single(CharacteristicReader.Read([new() { Balloon = "1", Requirement = requirement, Stages = "tack" }], "mm", null).Characteristics);
        var read = TypedValues.Read([row], new KeepDraft.Draft(new() { [KeepDraft.KeyOf(row.Id, 1)] = new(value, own, "") }, "", ""));
        Assert.Empty(read.Problems);
        var only = Assert.Single(read.Values);
        Assert.Equal((decimal.Parse(number), decimal.Parse(uncertainty)), (only.Number, only.ExpandedUncertainty));
    }
}
