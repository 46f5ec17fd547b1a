using System.Globalization;
using System.IO.Compression;
using System.Security;
using System.Text;

namespace FabLink.Portal.Tests.Import;

/// <summary>
/// Writes the workbooks of sample-data, the same bytes every time: stored without compression, at a fixed time. To write them
/// anew, run the tests with FABLINK_WRITE_SAMPLES=1.
/// </summary>
internal static class SampleWorkbooks
{
    private const string Main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    private const string Office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    private const string Package = "http://schemas.openxmlformats.org/package/2006";
    private const string Types = "application/vnd.openxmlformats-officedocument.spreadsheetml";

    /// <summary>File name under sample-data/measurements and its rows; numbers become numbers, the rest text.</summary>
    public static IReadOnlyDictionary<string, string[][]> All { get; } = new Dictionary<string, string[][]>
    {
        ["RH-130-001-tack.xlsx"] =
        [
            ["Part", "RH-130"],
            ["Revision", "A"],
            ["Stage", "tack"],
            ["Serial", "RH-130-001"],
            ["balloon", "value", "unit", "uncertainty", "instrument", "note"],
            ["4", "24.05", "mm", "0.1", "height gauge 1", "step checked from both ends"],
            ["6", "310.2", "mm", "0.4", "tape 3", ""],
        ],
        ["RH-140-tack.xlsx"] =
        [
            ["Part", "RH-140"],
            ["Revision", "A"],
            ["Stage", "tack"],
            ["Serial no", "Item", "Nominal", "Actual", "Unit", "U", "Gauge", "Remark"],
            .. Enumerable.Range(1, 4).SelectMany(i => new string[][]
            {
                [$"RH-140-00{i}", "1", "110", $"{110.4 - i * 0.15:0.0#}", "mm", "0.1", "height gauge 1", ""],
                [$"RH-140-00{i}", "2", "90", $"{89.8 + i * 0.1:0.0}", "deg", "0.1", "level 2", i == 1 ? "level reversed end for end" : ""],
                [$"RH-140-00{i}", "7", "80", "80.2", "mm", "0.1", "caliper 7", ""],
            }),
        ],
    };

    public static byte[] Write(string[][] rows)
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            Add(archive, "[Content_Types].xml",
                $"<Types xmlns=\"{Package}/content-types\"><Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>"
                + $"<Override PartName=\"/xl/workbook.xml\" ContentType=\"{Types}.sheet.main+xml\"/>"
                + $"<Override PartName=\"/xl/worksheets/sheet1.xml\" ContentType=\"{Types}.worksheet+xml\"/></Types>");
            Add(archive, "_rels/.rels", Relations("officeDocument", "xl/workbook.xml"));
            Add(archive, "xl/workbook.xml",
                $"<workbook xmlns=\"{Main}\" xmlns:r=\"{Office}\"><sheets><sheet name=\"Measured\" sheetId=\"1\" r:id=\"rId1\"/></sheets></workbook>");
            Add(archive, "xl/_rels/workbook.xml.rels", Relations("worksheet", "worksheets/sheet1.xml"));
            Add(archive, "xl/worksheets/sheet1.xml", $"<worksheet xmlns=\"{Main}\"><sheetData>{string.Concat(rows.Select(Row))}</sheetData></worksheet>");
        }

        return stream.ToArray();
    }

    private static string Row(string[] cells, int row) =>
        $"<row r=\"{row + 1}\">{string.Concat(cells.Select((text, column) => text.Length == 0 ? "" : Cell(text, $"{(char)('A' + column)}{row + 1}")))}</row>";

    private static string Cell(string text, string reference) =>
        decimal.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out _)
            ? $"<c r=\"{reference}\"><v>{text}</v></c>"
            : $"<c r=\"{reference}\" t=\"inlineStr\"><is><t>{SecurityElement.Escape(text)}</t></is></c>";

    private static string Relations(string kind, string target) =>
        $"<Relationships xmlns=\"{Package}/relationships\"><Relationship Id=\"rId1\" Type=\"{Office}/{kind}\" Target=\"{target}\"/></Relationships>";

    private static void Add(ZipArchive archive, string name, string xml)
    {
        var entry = archive.CreateEntry(name, CompressionLevel.NoCompression);
        entry.LastWriteTime = new DateTimeOffset(2026, 1, 1, 0, 0, 0, TimeSpan.Zero);
        using var writer = new StreamWriter(entry.Open(), new UTF8Encoding(false));
        writer.Write("<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n" + xml);
    }
}
