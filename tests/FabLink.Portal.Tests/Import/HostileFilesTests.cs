using System.Text;
using System.Text.Json;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class HostileFilesTests
{
    /// <summary>The bound on memory that import promises; allocated in all, so the peak is below it.</summary>
    internal const long MostBytes = 256L * 1024 * 1024;

    public static TheoryData<string> Spectrum => new(
        "comma_in_quotes", "empty", "empty_crlf", "escaped_quotes", "json", "newlines", "newlines_crlf",
        "quotes_and_newlines", "simple", "simple_crlf", "utf8");

    // csv-spectrum: the .json beside each file is its right reading.
    [Theory]
    [MemberData(nameof(Spectrum))]
    public void Odd_but_legal_text_is_read_as_its_makers_say(string name)
    {
        var bytes = File.ReadAllBytes(Path.Combine(OutsideFiles.Folder("csv"), name + ".csv"));
        // Copies of these files tend to lose their carriage returns on the way; the .json still has them.
        if (name.EndsWith("_crlf", StringComparison.Ordinal))
            bytes = Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(bytes).ReplaceLineEndings("\r\n"));
        using var stream = new MemoryStream(bytes);
        var sheet = Assert.IsType<SheetReading.Table>(SheetReader.Read(stream, name)).Sheet;
        using var expected = JsonDocument.Parse(File.ReadAllText(Path.Combine(OutsideFiles.Folder("csv"), name + ".json")));

        var header = sheet.Rows[0];
        var read = sheet.Rows.Skip(1).Select(row => Enumerable.Range(0, header.Count)
            .ToDictionary(column => header[column].Text, column => row[column].Text)).ToList();

        var right = expected.RootElement.EnumerateArray()
            .Select(row => row.EnumerateObject().ToDictionary(field => field.Name, field => field.Value.GetString()!)).ToList();
        Assert.Equal(right, read);
    }

    // csv-spectrum: this file's .json disagrees with the file about the telephone number, so that field is left out.
    [Fact]
    public void Coordinates_with_quotes_inside_plain_fields_are_read()
    {
        var sheet = Assert.IsType<SheetReading.Table>(Read(Path.Combine(OutsideFiles.Folder("csv"), "location_coordinates.csv"))).Sheet;
        using var expected = JsonDocument.Parse(File.ReadAllText(Path.Combine(OutsideFiles.Folder("csv"), "location_coordinates.json")));

        foreach (var (column, name) in new[] { (1, "Location Coordinates"), (2, "Cities"), (3, "Counties") })
            Assert.Equal(expected.RootElement.GetProperty(name).GetString(), sheet.Rows[1][column].Text);
    }

    public static TheoryData<string, string> RefusedWorkbooks => new()
    {
        { "54764-2.xlsx", "damaged" },
        { "SimpleMacro.xlsm", "macros" },
        { "clusterfuzz-testcase-minimized-POIFuzzer-5040805309710336.xlsx", "damaged" },
        { "clusterfuzz-testcase-minimized-POIXSSFFuzzer-5089447305609216.xlsx", "damaged" },
        { "clusterfuzz-testcase-minimized-POIXSSFFuzzer-5265527465181184.xlsx", "no visible worksheet" },
        { "clusterfuzz-testcase-minimized-POIXSSFFuzzer-6123461607817216.xlsx", "damaged" },
        { "clusterfuzz-testcase-minimized-POIXSSFFuzzer-6448258963341312.xlsx", "damaged" },
        { "clusterfuzz-testcase-minimized-XLSX2CSVFuzzer-5542865479270400.xlsx", "damaged" },
        { "clusterfuzz-testcase-minimized-XLSX2CSVFuzzer-6504225896792064.xlsx", "damaged" },
        { "crash-9bf3cd4bd6f50a8a9339d363c2c7af14b536865c.xlsx", "password" },
        { "poc-shared-strings.xlsx", "32767 characters" },
        { "poc-xmlbomb.xlsx", "damaged" },
    };

    [Theory]
    [MemberData(nameof(RefusedWorkbooks))]
    public void Bombs_macros_and_broken_workbooks_are_refused_with_what_to_do(string name, string because)
    {
        var refused = Assert.IsType<SheetReading.Refused>(Read(Path.Combine(OutsideFiles.Folder("xlsx"), name)));
        Assert.Contains(because, refused.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void A_formula_is_known_as_one_and_its_last_result_kept_apart()
    {
        var row = Workbook("formula-eval.xlsx").Rows[0];
        Assert.Equal(new Cell("3.25", CellKind.Number), row[2]);
        Assert.Equal(new Cell("6.75", CellKind.Formula), row[3]);
    }

    [Fact]
    public void Shared_formulas_are_formulas_in_every_cell()
    {
        var rows = Workbook("shared_formulas.xlsx").Rows;
        Assert.Equal(41, rows.Count);
        Assert.All(rows.Skip(1), row => Assert.Equal(CellKind.Formula, row[0].Kind));
        Assert.All(rows.Skip(1), row => Assert.Equal(CellKind.Text, row[1].Kind));
    }

    // The workbook writes each date a second time as text, by the spreadsheet itself.
    [Fact]
    public void Dates_counted_from_1904_are_the_days_the_spreadsheet_showed()
    {
        var rows = Workbook("1904.xlsx").Rows;
        Assert.Equal(5, rows.Count);
        Assert.All(rows, row => Assert.Equal(new Cell(row[2].Text, CellKind.Date), row[1]));
    }

    [Fact]
    public void Text_of_any_script_and_numbers_are_read_and_other_worksheets_mentioned()
    {
        var sheet = Workbook("text_and_numbers.xlsx");
        Assert.Equal("שלום", sheet.Rows[1][1].Text);
        Assert.Equal(4, sheet.Rows[2].Number);
        Assert.Equal(new Cell("13.37", CellKind.Number), sheet.Rows[2][1]);
        Assert.Contains("3 worksheets", Assert.Single(sheet.Remarks), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("link-external-workbook-a.xlsx", "10")]
    [InlineData("conditional_formatting_with_formula_on_second_sheet.xlsx", "Foooooooooooo")]
    [InlineData("workbookProtection-sheet_password-2013.xlsx", "The password of this")]
    public void Links_to_other_files_formats_and_locked_sheets_do_not_hinder_reading(string name, string first) =>
        Assert.StartsWith(first, Workbook(name).Rows[0][0].Text, StringComparison.Ordinal);

    [Fact]
    public void Every_broken_archive_is_refused()
    {
        var files = OutsideFiles.In("zip", "*.zip").ToList();
        Assert.True(files.Count >= 12);
        Assert.All(files, file => Assert.IsType<SheetReading.Refused>(Read(file)));
    }

    [Fact]
    public void Drawings_uploaded_as_a_table_end_in_an_answer_and_never_in_an_exception()
    {
        var drawings = OutsideFiles.In("pdf", "*").Concat(OutsideFiles.In("dxf", "*")).ToList();
        Assert.NotEmpty(drawings);
        Assert.All(drawings, file => Assert.NotNull(Read(file)));
    }

    [Fact]
    public void No_file_takes_more_memory_than_promised()
    {
        foreach (var file in new[] { "csv", "xlsx", "zip", "pdf", "dxf" }.SelectMany(folder => OutsideFiles.In(folder, "*")))
            Assert.InRange(Allocated(() => Read(file)), 1, MostBytes);
    }

    internal static long Allocated(Action act)
    {
        var before = GC.GetAllocatedBytesForCurrentThread();
        act();
        return GC.GetAllocatedBytesForCurrentThread() - before;
    }

    private static Sheet Workbook(string name) =>
        Assert.IsType<SheetReading.Table>(Read(Path.Combine(OutsideFiles.Folder("xlsx"), name))).Sheet;

    private static SheetReading Read(string path)
    {
        using var stream = File.OpenRead(path);
        return SheetReader.Read(stream, Path.GetFileName(path));
    }
}
