using System.IO.Compression;
using System.Text;
using FabLink.Portal.Platform.Tables;
using MiniExcelLibs;

namespace FabLink.Portal.Tests.Import;

public class WorkbookTests
{
    [Fact]
    public void A_workbook_of_a_general_library_is_read()
    {
        using var stream = new MemoryStream();
        stream.SaveAs(new[] { new { Balloon = "12.10", Value = 13.52, Note = "a & b <c>" } });
        stream.Position = 0;
        var sheet = Assert.IsType<SheetReading.Table>(SheetReader.Read(stream, "m.xlsx")).Sheet;
        Assert.Equal(["Balloon", "Value", "Note"], Enumerable.Range(0, 3).Select(column => sheet.Rows[0][column].Text));
        Assert.Equal([new("12.10", CellKind.Text), new("13.52", CellKind.Number), new("a & b <c>", CellKind.Text)],
            Enumerable.Range(0, 3).Select(column => sheet.Rows[1][column]));
    }

    [Theory]
    // IEEE 754 double arithmetic: what 0.1 + 0.2 and 1.1 * 3 leave in a workbook.
    [InlineData("0.30000000000000004", "0.3")]
    [InlineData("3.3000000000000003", "3.3")]
    [InlineData("1.2999999999999999E-2", "0.013")]
    [InlineData("-13.5", "-13.5")]
    [InlineData("10.0", "10")]
    [InlineData("123456789.012345", "123456789.012345")]
    public void A_number_has_the_digits_that_the_spreadsheet_showed(string stored, string text) =>
        Assert.Equal(new Cell(text, CellKind.Number), Cells($"<c r=\"A1\"><v>{stored}</v></c>")[0]);

    [Fact]
    public void Every_type_of_cell_is_told_apart()
    {
        var row = Cells("""
            <c r="A1" t="str"><v>text</v></c><c r="B1" t="inlineStr"><is><r><t>two </t></r><r><t>runs</t></r><rPh><t>hint</t></rPh></is></c>
            <c r="C1" t="b"><v>1</v></c><c r="D1" t="e"><v>#REF!</v></c><c r="E1" t="d"><v>2026-03-04</v></c>
            <c r="F1"><f>1+1</f><v>2</v></c><c r="G1"><f>1+1</f></c><c r="I1" t="str"><v>a_x000D_b</v></c>
            """);
        Assert.Equal(
            [new("text", CellKind.Text), new("two runs", CellKind.Text), new("TRUE", CellKind.Logical), new("#REF!", CellKind.Error),
                new("2026-03-04", CellKind.Date), new("2", CellKind.Formula), new("=", CellKind.Formula), Cell.Empty, new("a\rb", CellKind.Text)],
            Enumerable.Range(0, row.Count).Select(column => row[column]));
    }

    [Theory]
    // ISO/IEC 29500-1, 18.8.30: built-in 14 is a date, 9 a percentage, 2 is 0.00; from 164 on the workbook's own.
    [InlineData("<xf numFmtId=\"14\"/>", "", CellKind.Date, "2026-12-03")]
    [InlineData("<xf numFmtId=\"2\"/>", "", CellKind.Number, "46359")]
    [InlineData("<xf numFmtId=\"9\"/>", "", CellKind.Number, "4635900%")]
    [InlineData("<xf numFmtId=\"164\"/>", "dd/mm/yyyy", CellKind.Date, "2026-12-03")]
    [InlineData("<xf numFmtId=\"164\"/>", "[$-407]d. mmm", CellKind.Date, "2026-12-03")]
    [InlineData("<xf numFmtId=\"164\"/>", "0.000&quot; mm&quot;", CellKind.Number, "46359")]
    [InlineData("<xf numFmtId=\"164\"/>", "[Red]0.00\\d", CellKind.Number, "46359")]
    [InlineData("<xf numFmtId=\"164\"/>", "[h]:mm", CellKind.Date, "2026-12-03")]
    public void A_number_shown_as_a_date_or_percentage_says_so(string style, string code, CellKind kind, string text)
    {
        var styles = $"<styleSheet><numFmts><numFmt numFmtId=\"164\" formatCode=\"{code}\"/></numFmts><cellXfs>{style}</cellXfs></styleSheet>";
        var row = Read(Pack("<c r=\"A1\" s=\"0\"><v>46359</v></c>", styles));
        Assert.Equal(new Cell(text, kind), Assert.IsType<SheetReading.Table>(row).Sheet.Rows[0][0]);
    }

    [Theory]
    [InlineData("<c r=\"A1\"><v>not a number</v></c>", "says it is a number")]
    [InlineData("<c r=\"A1\"><v>1e999</v></c>", "says it is a number")]
    [InlineData("<c r=\"A1\" t=\"s\"><v>7</v></c>", "refers to a text")]
    [InlineData("<c r=\"B1\"><v>1</v></c><c r=\"A1\"><v>2</v></c>", "not in order")]
    [InlineData("<c r=\"BZ1\"><v>1</v></c>", "64 columns")]
    [InlineData("</row><row r=\"1\"><c r=\"A1\"><v>1</v></c>", "rows of the worksheet are not in order")]
    [InlineData("<c r=\"A1\"><v>1</c>", "damaged")]
    public void A_forged_cell_is_refused(string cells, string because) =>
        Assert.Contains(because, Refused(Pack(cells)), StringComparison.Ordinal);

    public static TheoryData<string, string> Bombs => new()
    {
        { "whitespace", "128 MB" },
        { "attribute", "32767 characters" },
        { "text", "32767 characters" },
        { "cdata", "32767 characters" },
        { "comment", "32767 characters" },
        { "names", "not one that a spreadsheet wrote" },
        { "depth", "not one that a spreadsheet wrote" },
        { "cells", "cells" },
        { "one text many times", "characters" },
    };

    [Theory]
    [MemberData(nameof(Bombs))]
    public void A_small_file_that_unpacks_to_very_much_is_refused_early(string kind, string because)
    {
        var bomb = Pack(content: stream => Write(stream, kind));
        Assert.InRange(bomb.Length, 1, SheetLimits.FileBytes);
        var reason = "";
        Assert.InRange(HostileFilesTests.Allocated(() => reason = Refused(bomb)), 1, HostileFilesTests.MostBytes);
        Assert.Contains(because, reason, StringComparison.Ordinal);
    }

    private static void Write(StreamWriter sheet, string kind)
    {
        const int Much = 150_000_000;
        switch (kind)
        {
            case "whitespace":
                Repeat(sheet, "<row>" + new string(' ', 1000) + "</row>", Much / 1000);
                break;
            case "attribute":
                sheet.Write("<row r=\"");
                Repeat(sheet, "1111111111", Much / 10);
                break;
            case "text":
                sheet.Write("<row><c t=\"str\"><v>");
                Repeat(sheet, "1111111111", Much / 10);
                break;
            case "cdata":
                sheet.Write("<row><c t=\"str\"><v><![CDATA[");
                Repeat(sheet, "<<<<<<<<<<", Much / 10);
                break;
            case "comment":
                sheet.Write("<!--");
                Repeat(sheet, "<<<<<<<<<<", Much / 10);
                break;
            case "names":
                for (var i = 0; i < 3_000_000; i++)
                    sheet.Write($"<n{i}/>");
                break;
            case "depth":
                Repeat(sheet, "<row>", Much / 5);
                break;
            case "cells":
                Repeat(sheet, "<row>" + string.Concat(Enumerable.Repeat("<c><v>1.5</v></c>", 60)) + "</row>", 100_000);
                break;
            default:
                Repeat(sheet, $"<row><c t=\"str\"><v>{new string('x', 30_000)}</v></c></row>", 4_000);
                break;
        }
    }

    private static void Repeat(StreamWriter writer, string pattern, int times)
    {
        for (var i = 0; i < times; i++)
            writer.Write(pattern);
    }

    [Fact]
    public void A_hidden_worksheet_and_a_link_to_elsewhere_are_never_read()
    {
        var package = Pack("<c r=\"A1\" t=\"str\"><v>secret</v></c>", sheetAttributes: "state=\"veryHidden\"");
        Assert.Contains("no visible worksheet", Refused(package), StringComparison.Ordinal);
        package = Pack("<c r=\"A1\" t=\"str\"><v>x</v></c>", relationAttributes: "TargetMode=\"External\"");
        Assert.Contains("no visible worksheet", Refused(package), StringComparison.Ordinal);
    }

    [Fact]
    public void More_parts_than_a_workbook_has_are_refused_before_they_are_listed()
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            for (var i = 0; i <= SheetLimits.PackageParts; i++)
                archive.CreateEntry($"{i}");
        }

        Assert.Contains("2000 files", Refused(stream.ToArray()), StringComparison.Ordinal);
    }

    internal static byte[] PackRows(string rows) => Pack(content: writer => writer.Write(rows + "</sheetData></worksheet>"));

    private static SheetRow Cells(string cells) => Assert.IsType<SheetReading.Table>(Read(Pack(cells))).Sheet.Rows[0];

    private static string Refused(byte[] package) => Assert.IsType<SheetReading.Refused>(Read(package)).Reason;

    private static SheetReading Read(byte[] package)
    {
        using var stream = new MemoryStream(package);
        return SheetReader.Read(stream, "m.xlsx");
    }

    private static byte[] Pack(
        string cells = "", string? styles = null, string sheetAttributes = "", string relationAttributes = "", Action<StreamWriter>? content = null)
    {
        const string Office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            Add(archive, "[Content_Types].xml", "<Types/>");
            Add(archive, "_rels/.rels", $"<Relationships><Relationship Id=\"a\" Type=\"{Office}/officeDocument\" Target=\"/xl/workbook.xml\"/></Relationships>");
            Add(archive, "xl/workbook.xml", $"<workbook xmlns:r=\"{Office}\"><sheets><sheet name=\"One\" {sheetAttributes} r:id=\"s\"/></sheets></workbook>");
            Add(archive, "xl/_rels/workbook.xml.rels",
                $"<Relationships><Relationship Id=\"s\" Type=\"{Office}/worksheet\" Target=\"sheet.xml\" {relationAttributes}/>"
                + $"<Relationship Id=\"t\" Type=\"{Office}/styles\" Target=\"styles.xml\"/></Relationships>");
            if (styles is not null)
                Add(archive, "xl/styles.xml", styles);
            using var writer = new StreamWriter(archive.CreateEntry("xl/sheet.xml", CompressionLevel.Fastest).Open(), new UTF8Encoding(false), 1 << 16);
            writer.Write("<worksheet><sheetData>");
            if (content is null)
                writer.Write($"<row r=\"1\">{cells}</row></sheetData></worksheet>");
            else
                content(writer);
        }

        return stream.ToArray();
    }

    private static void Add(ZipArchive archive, string name, string text)
    {
        using var writer = new StreamWriter(archive.CreateEntry(name).Open());
        writer.Write(text);
    }
}
