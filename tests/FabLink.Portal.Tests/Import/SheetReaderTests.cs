using System.Text;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class SheetReaderTests
{
    [Theory]
    [InlineData("balloon,value\n12,1.5\n")]
    [InlineData("balloon;value\n12;1.5\n")]
    [InlineData("balloon\tvalue\r\n12\t1.5\r\n")]
    [InlineData("balloon;value\r12;1.5")]
    [InlineData("sep=;\nballoon;value\n12;1.5")]
    [InlineData("\"balloon\";\"value\"\n\"12\";\"1.5\"\n")]
    public void The_delimiter_is_found(string text)
    {
        var rows = Table(text).Rows;
        Assert.Equal(["balloon,value", "12,1.5"], rows.Select(row => $"{row[0]},{row[1]}"));
        Assert.All(rows, row => Assert.Equal(2, row.Count));
    }

    [Fact]
    public void Decimal_commas_do_not_pass_for_delimiters()
    {
        var rows = Table("Revision;B\nballoon;value;uncertainty;note\n1;12,5;0,02;a, b, c, d\n2;13,5;0,02;\n3;7,25;0,02;x").Rows;
        Assert.Equal("12,5", rows[2][1].Text);
        Assert.Equal("a, b, c, d", rows[2][3].Text);
    }

    public static TheoryData<Encoding, bool> Encodings => new()
    {
        { new UTF8Encoding(false), false },
        { new UTF8Encoding(true), false },
        { new UnicodeEncoding(false, true), false },
        { new UnicodeEncoding(true, true), false },
        { CodePagesEncodingProvider.Instance.GetEncoding(1252)!, true },
    };

    [Theory]
    [MemberData(nameof(Encodings))]
    public void Text_is_decoded_by_its_byte_order_mark_or_its_content(Encoding encoding, bool remarked)
    {
        byte[] bytes = [.. encoding.Preamble, .. encoding.GetBytes("balloon,note\n1,Ø13.5 at 30° – Müller\n")];
        var sheet = Table(bytes);
        Assert.Equal("balloon", sheet.Rows[0][0].Text);
        Assert.Equal("Ø13.5 at 30° – Müller", sheet.Rows[1][1].Text);
        Assert.Equal(remarked, sheet.Remarks.Count == 1);
    }

    [Fact]
    public void Rows_are_numbered_as_a_spreadsheet_shows_them_and_blank_ones_leave_a_gap()
    {
        var rows = Table("a,b\n\n1,\"two\nlines\"\n,,\n2,3\n").Rows;
        Assert.Equal([1, 3, 5], rows.Select(row => row.Number));
    }

    [Fact]
    public void An_inch_sign_inside_a_field_is_not_a_quotation_mark() =>
        Assert.Equal("3/4\" hole", Table("a,b\n1,3/4\" hole\n2,x\n").Rows[1][1].Text);

    [Theory]
    [InlineData("a,b\n1,\"never closed\n2,3\n", 2, "quotation mark")]
    [InlineData("a,b\n1,\"closed\" and more\n", 2, "quotation mark")]
    [InlineData("", null, "empty")]
    [InlineData("\n\n , \n", null, "no rows")]
    [InlineData("\0\0\0\u0001", null, "neither text nor a workbook")]
    [InlineData("%PDF-1.7\n", null, "PDF")]
    [InlineData("PK\u0003\u0004 nothing more", null, "damaged")]
    public void What_is_no_table_is_refused_with_its_row_and_reason(string text, int? row, string because)
    {
        var refused = Refused(Encoding.UTF8.GetBytes(text));
        Assert.Equal(row, refused.Row);
        Assert.Contains(because, refused.Reason, StringComparison.Ordinal);
        Assert.Equal("file.csv", refused.FileName);
    }

    [Fact]
    public void A_password_is_told_apart_from_an_old_workbook()
    {
        byte[] compound = [0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1, .. new byte[504]];
        Assert.Contains("old .xls", Refused(compound).Reason, StringComparison.Ordinal);
        Assert.Contains("password", Refused([.. compound, .. Encoding.Unicode.GetBytes("EncryptedPackage")]).Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Pasted_text_is_a_table_too()
    {
        var read = Assert.IsType<SheetReading.Table>(SheetReader.ReadPasted("balloon\tnote\n1\t\"two\nlines\"\n"));
        Assert.Equal("two\nlines", read.Sheet.Rows[1][1].Text);
    }

    [Fact]
    public void The_limits_are_kept_in_rows_columns_and_cells()
    {
        Assert.Contains("200000 rows", Refused(Repeat("1\n", SheetLimits.Rows + 1)).Reason, StringComparison.Ordinal);
        Assert.Equal(SheetLimits.Rows, Table(Repeat("1\n", SheetLimits.Rows)).Rows.Count);
        Assert.Contains("64 columns", Refused(Repeat("1,", 70)).Reason, StringComparison.Ordinal);
        Assert.Contains("32767 characters", Refused(Repeat("x", SheetLimits.CellCharacters + 1)).Reason, StringComparison.Ordinal);
        Assert.Contains("cells", Refused(Repeat("1,2,3,4,5,6,7,8,9,10\n", 170_000)).Reason, StringComparison.Ordinal);
        Assert.Contains("20 MB", Refused(new byte[SheetLimits.FileBytes + 1]).Reason, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(",", 20_000_000)]
    [InlineData("\"", 20_000_000)]
    [InlineData("\"a,", 6_500_000)]
    [InlineData("\n", 20_000_000)]
    [InlineData(";,\t", 6_500_000)]
    [InlineData("12.5,13.5,1,2,3,4,5,6\n", 199_000)]
    [InlineData("a\f,", 6_500_000)]
    public void Twenty_megabytes_of_anything_stay_within_the_memory(string pattern, int times)
    {
        var bytes = Repeat(pattern, times);
        Assert.InRange(HostileFilesTests.Allocated(() => Read(bytes)), 1, HostileFilesTests.MostBytes);
    }

    private static byte[] Repeat(string pattern, int times)
    {
        var one = Encoding.UTF8.GetBytes(pattern);
        var all = new byte[one.Length * times];
        for (var i = 0; i < times; i++)
            one.CopyTo(all, i * one.Length);
        return all;
    }

    private static SheetReading Read(byte[] bytes)
    {
        using var stream = new MemoryStream(bytes);
        return SheetReader.Read(stream, "file.csv");
    }

    private static Sheet Table(string text) => Table(Encoding.UTF8.GetBytes(text));

    private static Sheet Table(byte[] bytes) => Assert.IsType<SheetReading.Table>(Read(bytes)).Sheet;

    private static SheetReading.Refused Refused(byte[] bytes) => Assert.IsType<SheetReading.Refused>(Read(bytes));
}
