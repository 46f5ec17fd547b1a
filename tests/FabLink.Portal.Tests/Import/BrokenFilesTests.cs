using System.Globalization;
using System.Text;
using CsCheck;
using CsvHelper;
using CsvHelper.Configuration;
using FabLink.Portal.Platform.Tables;
using MiniExcelLibs;

namespace FabLink.Portal.Tests.Import;

public class BrokenFilesTests
{
    private const string Awkward = "\",;\t\n°Øש水";

    private static readonly Gen<string> Word =
        Gen.String[Gen.OneOf(Gen.Char['\u0020', '\u007e'], Gen.Int[0, Awkward.Length - 1].Select(i => Awkward[i])), 0, 20];

    // CsvHelper's writer is the outside judge of what separated text looks like.
    [Fact]
    public void Whatever_a_general_library_writes_is_read_back_cell_by_cell() =>
        Gen.Select(Word.Array[3].Array[1, 12], Gen.Int[0, 2].Select(i => ",;\t"[i].ToString())).Sample((rows, delimiter) =>
        {
            var text = new StringBuilder();
            using (var writer = new CsvWriter(new StringWriter(text), new CsvConfiguration(CultureInfo.InvariantCulture) { Delimiter = delimiter, NewLine = "\n" }))
            {
                string[] headings = ["id", "one", "two", "three"];
                foreach (var cells in rows.Select((cells, index) => (string[])[$"{index}", .. cells]).Prepend(headings))
                {
                    foreach (var cell in cells)
                        writer.WriteField(cell);
                    writer.NextRecord();
                }
            }

            var read = Assert.IsType<SheetReading.Table>(SheetReader.ReadPasted(text.ToString())).Sheet.Rows.Skip(1);
            Assert.Equal(rows, read.Select(row => new[] { row[1].Text, row[2].Text, row[3].Text }));
        }, iter: 300, threads: 1);

    [Fact]
    public void A_workbook_with_any_of_its_bytes_changed_is_read_or_refused()
    {
        var whole = MakeWorkbook();
        var random = new Random(20260101);
        var refused = 0;
        for (var i = 0; i < 1500; i++)
        {
            var bytes = (byte[])whole.Clone();
            for (var change = random.Next(1, 6); change > 0; change--)
                bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
            if (i % 3 == 0)
                bytes = bytes[..random.Next(bytes.Length)];
            refused += Read(bytes) is SheetReading.Refused ? 1 : 0;
        }

        Assert.InRange(refused, 500, 1500);
    }

    [Fact]
    public void A_worksheet_with_any_of_its_characters_changed_is_read_or_refused()
    {
        const string Good = "<row r=\"1\"><c r=\"A1\" t=\"str\" s=\"0\"><v>text</v></c><c r=\"B1\"><f>1+1</f><v>2</v></c><c r=\"C1\" t=\"inlineStr\"><is><t>a_x0041_</t></is></c></row>";
        const string Likely = "<>/\"=&;#x0123456789ABCrtsfv _-\n\u00e9";
        var random = new Random(20260102);
        var refused = 0;
        for (var i = 0; i < 1500; i++)
        {
            var text = new StringBuilder(Good);
            for (var change = random.Next(1, 3); change > 0; change--)
                text[random.Next(text.Length)] = Likely[random.Next(Likely.Length)];
            refused += Read(WorkbookTests.PackRows(text.ToString())) is SheetReading.Refused ? 1 : 0;
        }

        Assert.InRange(refused, 300, 1480);
    }

    [Fact]
    public void Random_bytes_are_read_or_refused()
    {
        var random = new Random(20260103);
        byte[][] starts = [[], "PK\u0003\u0004"u8.ToArray(), [0xFF, 0xFE], [0xEF, 0xBB, 0xBF], "balloon,value\n"u8.ToArray()];
        for (var i = 0; i < 2000; i++)
        {
            var bytes = new byte[random.Next(400)];
            random.NextBytes(bytes);
            Assert.NotNull(Read([.. starts[i % starts.Length], .. bytes]));
        }
    }

    private static byte[] MakeWorkbook()
    {
        using var stream = new MemoryStream();
        stream.SaveAs(Enumerable.Range(1, 20).Select(i => new { Balloon = $"12.{i}", Value = 13.5 + i / 100.0, Note = $"note {i}", At = new DateTime(2026, 1, i) }));
        return stream.ToArray();
    }

    private static SheetReading Read(byte[] bytes)
    {
        using var stream = new MemoryStream(bytes);
        return SheetReader.Read(stream, "broken.xlsx");
    }
}
