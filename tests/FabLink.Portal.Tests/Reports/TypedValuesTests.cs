using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports;

namespace FabLink.Portal.Tests.Reports;

/// <summary>Values and their uncertainties as they are typed; 1 in is 25.4 mm exactly.</summary>
public sealed class TypedValuesTests
{
    [Theory]
    [InlineData("4.728 ±.002 in", "", "120.0912", "0.0508")]
    [InlineData("4.728 in ±.002", "", "120.0912", "0.0508")]
    [InlineData("4.728 in", ".002", "120.0912", "0.0508")]
    [InlineData("4.728\"", "±.002", "120.0912", "0.0508")]
    [InlineData("4.728 ±.002\"", "", "120.0912", "0.0508")]
    [InlineData("4.728 in", "0.05 mm", "120.0912", "0.05")]
    [InlineData("120.1 mm +/- .002 in", "", "120.1", "0.0508")]
    [InlineData("120,1 ±0,05", "", "120.1", "0.05")]
    [InlineData("120,1", "0,05", "120.1", "0.05")]
    public void Lengths_share_a_unit_where_only_one_of_them_names_it(string value, string own, string mm, string uncertainty) =>
        AssertRead("120 ±0.5", value, own, mm, uncertainty);

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
