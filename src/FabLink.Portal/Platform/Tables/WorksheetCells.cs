using System.Globalization;

namespace FabLink.Portal.Platform.Tables;

/// <summary>The cells of one worksheet (ISO/IEC 29500-1, 18.3.1.4 c and 18.3.1.73 row).</summary>
internal sealed class WorksheetCells(List<string> sharedStrings, NumberFormats formats, bool epoch1904)
{
    private const int SpreadsheetRows = 1_048_576;

    private readonly string?[] shortNumbers = new string?[1024];

    public List<SheetRow> Read(Workbook workbook, string part)
    {
        var rows = new SheetRows();
        var row = 0;
        var column = -1;
        var open = false;
        using var xml = workbook.Open(part)!;
        while (xml.Read())
        {
            if (xml.LocalName == "row" && xml.IsElement)
            {
                row = NextRow(xml.Attribute("r"), row);
                column = -1;
                open = !xml.IsEmptyElement;
            }
            else if (xml.LocalName == "row" && open)
            {
                rows.End(row);
                open = false;
            }
            else if (open && xml.LocalName == "c" && xml.IsElement)
            {
                column = ColumnOf(xml.Attribute("r"), column, row);
                rows.Place(row, column, ReadCell(xml, row));
            }
        }

        return rows.Rows;
    }

    private static int NextRow(string? written, int previous)
    {
        if (written is null)
            return previous + 1;
        if (!int.TryParse(written, NumberStyles.None, CultureInfo.InvariantCulture, out var row) || row <= previous || row > SpreadsheetRows)
            throw new SheetRefusal("The rows of the worksheet are not in order. Open the workbook in a spreadsheet, save it again and upload that.", previous);
        return row;
    }

    /// <summary>Column of a reference such as AB12, counted from 0; the next one when the reference is left out.</summary>
    private static int ColumnOf(string? reference, int previous, int row)
    {
        if (reference is null)
            return previous + 1;
        var column = 0;
        foreach (var letter in reference)
        {
            if (!char.IsAsciiLetter(letter) || column > 20_000)
                break;
            column = column * 26 + (char.ToUpperInvariant(letter) - 'A' + 1);
        }

        return column - 1 > previous
            ? column - 1
            : throw new SheetRefusal("The cells of this row are not in order. Open the workbook in a spreadsheet, save it again and upload that.", row);
    }

    private Cell ReadCell(GuardedXml xml, int row)
    {
        if (xml.IsEmptyElement)
            return Cell.Empty;
        var type = xml.Attribute("t");
        var shown = formats.Of(xml.Attribute("s"));
        var depth = xml.Depth;
        var formula = false;
        var value = "";
        while (xml.Read() && xml.Depth > depth)
        {
            if (!xml.IsElement)
                continue;
            if (xml.LocalName == "f")
            {
                formula = true;
                xml.ReadText();
            }
            else if (xml.LocalName == "v")
            {
                value = xml.ReadText();
            }
            else if (xml.LocalName == "is")
            {
                value = xml.ReadRichText();
            }
        }

        var cell = Interpret(type, shown, value, row);
        // A formula without a stored result must not look like an empty cell.
        return formula ? new Cell(cell.Text.Length == 0 ? "=" : cell.Text, CellKind.Formula) : cell;
    }

    private Cell Interpret(string? type, NumberFormats.Shown shown, string value, int row)
    {
        if (value.Length == 0)
            return Cell.Empty;
        return type switch
        {
            "s" => Text(SharedString(value, row)),
            "str" or "inlineStr" => Text(value),
            "b" => new Cell(value.Trim() is "1" or "true" ? "TRUE" : "FALSE", CellKind.Logical),
            "e" => new Cell(value, CellKind.Error),
            "d" => new Cell(value, CellKind.Date),
            _ => Number(value, shown, row),
        };
    }

    private static Cell Text(string text) => new(text, text.Length == 0 ? CellKind.Empty : CellKind.Text);

    private string SharedString(string index, int row) =>
        int.TryParse(index, NumberStyles.None, CultureInfo.InvariantCulture, out var i) && i < sharedStrings.Count
            ? sharedStrings[i]
            : throw new SheetRefusal("A cell of this row refers to a text that is not in the workbook. Open it in a spreadsheet, save it again and upload that.", row);

    private Cell Number(string written, NumberFormats.Shown shown, int row)
    {
        if (!double.TryParse(written, NumberStyles.Float, CultureInfo.InvariantCulture, out var number) || !double.IsFinite(number))
            throw new SheetRefusal($"A cell of this row says it is a number and is not: “{(written.Length > 40 ? written[..40] : written)}”.", row);
        return shown switch
        {
            NumberFormats.Shown.AsDate => new Cell(Date(number), CellKind.Date),
            NumberFormats.Shown.AsPercent => new Cell(Plain(number * 100) + "%", CellKind.Number),
            _ => new Cell(Plain(number), CellKind.Number),
        };
    }

    /// <summary>
    /// A spreadsheet computes in binary and shows 15 digits; so 0.1 + 0.2, stored as 0.30000000000000004, is 0.3 again.
    /// </summary>
    private string Plain(double number)
    {
        if (number is >= 0 and < 1024 && number == (int)number)
            return shortNumbers[(int)number] ??= ((int)number).ToString(CultureInfo.InvariantCulture);
        var digits = number.ToString("G15", CultureInfo.InvariantCulture);
        return digits.Contains('E') && decimal.TryParse(digits, NumberStyles.Float, CultureInfo.InvariantCulture, out var plain)
            ? plain.ToString(CultureInfo.InvariantCulture)
            : digits;
    }

    /// <summary>Days since 1899-12-30, or since 1904-01-01 when the workbook says so (ISO/IEC 29500-1, 18.17.4.1).</summary>
    private string Date(double days)
    {
        var epoch = epoch1904 ? new DateTime(1904, 1, 1) : new DateTime(1899, 12, 30);
        if (days < -600_000 || days > 2_900_000)
            return Plain(days);
        var moment = epoch.AddDays(days);
        return moment.ToString(moment.TimeOfDay == TimeSpan.Zero ? "yyyy-MM-dd" : "yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);
    }
}
