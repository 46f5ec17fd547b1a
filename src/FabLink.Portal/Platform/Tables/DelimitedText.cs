using System.Globalization;
using CsvHelper;
using CsvHelper.Configuration;

namespace FabLink.Portal.Platform.Tables;

/// <summary>Separated text as RFC 4180 has it, with comma, semicolon or tab between the fields.</summary>
internal static class DelimitedText
{
    private const int LongestLine = 2_000_000;
    private const int MostMarksInLine = 100_000;

    public static Sheet Read(string text, string name, IReadOnlyList<string> remarks)
    {
        if (text.Contains('\0', StringComparison.Ordinal))
            throw new SheetRefusal("The text holds zero characters; it is not a table. Save it again as .csv or .xlsx.");
        RefuseMonstrousLines(text);
        var (delimiter, start) = Delimiter.Detect(text);

        using var reader = new StringReader(text);
        var skipped = 0;
        if (start > 0)
        {
            reader.ReadLine();
            skipped = 1;
        }

        var broken = false;
        var settings = new CsvConfiguration(CultureInfo.InvariantCulture)
        {
            Delimiter = delimiter.ToString(),
            IgnoreBlankLines = false,
            MaxFieldSize = SheetLimits.CellCharacters,
            // Units, serials and instruments repeat from row to row.
            CacheFields = true,
            // A quote inside a plain field is an inch sign (3/4" hole) and stands; one that opens a field must close it.
            BadDataFound = bad => broken |= bad.Field.StartsWith('"'),
        };
        using var parser = new CsvParser(reader, settings);
        var rows = new SheetRows();
        try
        {
            while (parser.Read())
            {
                var number = parser.Row + skipped;
                for (var column = 0; column < parser.Count; column++)
                {
                    var field = parser[column];
                    rows.Place(number, column, new Cell(field, field.Length == 0 ? CellKind.Empty : CellKind.Text));
                }

                if (broken)
                    throw new SheetRefusal("A quotation mark opens a field and does not close it properly. Close it, double it inside the field, or write in for inches.", number);
                rows.End(number);
            }
        }
        catch (MaxFieldSizeException)
        {
            throw new SheetRefusal($"A field holds more than {SheetLimits.CellCharacters} characters; perhaps a quotation mark was opened and never closed.", parser.Row + skipped);
        }

        return rows.Rows.Count == 0
            ? throw new SheetRefusal("The file has no rows.")
            : new Sheet(name, "", rows.Rows, remarks);
    }

    // The parser keeps a whole record in memory before a field of it can be looked at.
    private static void RefuseMonstrousLines(string text)
    {
        var rest = text.AsSpan();
        for (var line = 1; !rest.IsEmpty; line++)
        {
            var end = rest.IndexOfAny('\r', '\n');
            var content = end < 0 ? rest : rest[..end];
            if (content.Length > LongestLine || Marks(content) > MostMarksInLine)
                throw new SheetRefusal("This line is far too long for a row of a table.", line);
            rest = end < 0 ? [] : rest[(end + (rest[end..].StartsWith("\r\n") ? 2 : 1))..];
        }
    }

    private static int Marks(ReadOnlySpan<char> line) => line.Count(',') + line.Count(';') + line.Count('\t');
}
