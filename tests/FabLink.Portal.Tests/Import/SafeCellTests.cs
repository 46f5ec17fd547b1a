using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class SafeCellTests
{
    [Theory]
    [InlineData("=1+1")]
    [InlineData("+cmd|' /C calc'!A0")]
    [InlineData("-2+3")]
    [InlineData("@SUM(A1)")]
    [InlineData("\t=1")]
    [InlineData("\r=1")]
    [InlineData("  =1")]
    [InlineData("＝1")]
    [InlineData("-")]
    [InlineData("+1e5")]
    public void What_a_spreadsheet_could_run_becomes_text(string text) => Assert.Equal("'" + text, SafeCell.Of(text));

    [Theory]
    [InlineData("-0.5")]
    [InlineData("+0.5")]
    [InlineData("12")]
    [InlineData("plain text - with = inside")]
    [InlineData("Ø13.5")]
    [InlineData("")]
    public void Numbers_and_plain_text_stay_as_they_are(string text) => Assert.Equal(text, SafeCell.Of(text));

    [Fact]
    public void Nothing_stays_nothing() => Assert.Equal("", SafeCell.Of(null));
}
