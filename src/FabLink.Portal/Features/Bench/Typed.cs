using System.Globalization;
using System.Text;
using FabLink.Engineering;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Bench;

/// <summary>Numbers and tables as people type and paste them; comma or point, nothing grouped.</summary>
internal static class Typed
{
    /// <returns>Null when nothing was typed.</returns>
    public static decimal? Exact(string? text, string field) =>
        string.IsNullOrWhiteSpace(text) ? null : NumberText.Parse(text, field);

    /// <inheritdoc cref="Exact"/>
    public static double? Number(string? text, string field) => (double?)Exact(text, field);

    /// <summary>An angle in degrees, also as <c>2°</c> or <c>1°30'</c>.</summary>
    /// <inheritdoc cref="Exact"/>
    public static double? Degrees(string? text, string field) =>
        !string.IsNullOrWhiteSpace(text) && text.AsSpan().IndexOfAny("°'\"") > 0 && AngleText.TryParse(text.AsSpan().Trim(), out var seconds) ? (double)(seconds / 3600) : Number(text, field);

    /// <inheritdoc cref="Exact"/>
    public static int? Whole(string? text, string field) => Exact(text, field) switch
    {
        null => null,
        { } number when number == decimal.Truncate(number) && Math.Abs(number) <= int.MaxValue => (int)number,
        { } number => throw new InputError(field, $"{number} is no whole number that can be used here."),
    };

    public static string? Text(string? text) => string.IsNullOrWhiteSpace(text) ? null : text.Trim();

    /// <summary>Coordinates or other numbers in one box: <c>90; 50</c> or <c>90 50</c>.</summary>
    public static decimal[] Numbers(string? text, string field) =>
        [.. (text ?? "").Split([' ', ';', '\t'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries).Select(each => NumberText.Parse(each, field))];

    /// <summary>A number for a page: short, no exponent for what a shop measures.</summary>
    public static string Say(double? number, int decimals = 4) =>
        number is { } known ? (Math.Round(known, decimals) + 0.0).ToString("0." + new string('#', decimals), CultureInfo.InvariantCulture).Replace("-", "−", StringComparison.Ordinal) : "";

    public static string Say(decimal? number, int decimals = 4) => Say((double?)number, decimals);

    /// <summary>A pasted table as comma separated text that no spreadsheet takes for formulas.</summary>
    public static string Csv(string? text, string field)
    {
        var csv = new StringBuilder();
        foreach (var row in PastedTable.SheetOf(text, field).Rows)
        {
            for (var i = 0; i < row.Count; i++)
            {
                var cell = SafeCell.Of(row[i].Text.Trim());
                csv.Append(i == 0 ? "" : ",").Append(cell.AsSpan().IndexOfAny(",\"\r\n") < 0 ? cell : $"\"{cell.Replace("\"", "\"\"", StringComparison.Ordinal)}\"");
            }

            csv.Append("\r\n");
        }

        return csv.ToString();
    }

    /// <summary>An uploaded table as the text that would have been pasted.</summary>
    /// <exception cref="InputError">It is no table.</exception>
    public static string Pasted(IFormFile file, string field)
    {
        using var stream = file.OpenReadStream();
        return SheetReader.Read(stream, file.FileName) switch
        {
            SheetReading.Table(var sheet) => string.Join('\n', sheet.Rows.Select(row => string.Join('\t', Enumerable.Range(0, row.Count).Select(i => row[i].Text.ReplaceLineEndings(" ").Replace('\t', ' '))))),
            SheetReading.Refused refused => throw new InputError(field, refused.Reason),
            _ => throw new InputError(field, "This is no table."),
        };
    }
}

/// <summary>A pasted table whose first row names its columns.</summary>
internal sealed class PastedTable
{
    private readonly Dictionary<string, int> columns = new(StringComparer.Ordinal);
    private readonly string field;

    private PastedTable(Sheet sheet, string field)
    {
        (Sheet, this.field) = (sheet, field);
        var head = sheet.Rows[0];
        for (var i = 0; i < head.Count; i++)
        {
            if (!head[i].IsBlank && !columns.TryAdd(Plain(head[i].Text), i))
                throw new InputError(field, $"The table has two columns “{head[i].Text.Trim()}”.");
        }
    }

    public Sheet Sheet { get; }

    public IEnumerable<PastedRow> Rows => Sheet.Rows.Skip(1).Select((row, index) => new PastedRow(this, row, index));

    /// <param name="text">As pasted.</param>
    /// <param name="field">Of the question, for refusals.</param>
    /// <param name="known">Every column that is understood; the first ones, up to <paramref name="needed"/>, must be there.</param>
    /// <param name="needed">How many of them.</param>
    public static PastedTable Read(string? text, string field, string[] known, int needed)
    {
        var table = new PastedTable(SheetOf(text, field), field);
        foreach (var column in known.Take(needed))
        {
            if (!table.Has(column))
                throw new InputError(field, $"The first row names the columns; “{column}” is not among them.");
        }

        var names = known.Select(Plain).ToHashSet(StringComparer.Ordinal);
        return table.columns.Keys.FirstOrDefault(column => !names.Contains(column)) is { } strange
            ? throw new InputError(field, $"There is no column “{strange}” here; there are {string.Join(", ", known)}.")
            : table;
    }

    public static Sheet SheetOf(string? text, string field) => SheetReader.ReadPasted(text ?? "") switch
    {
        SheetReading.Table({ Rows.Count: > 0 } table) => table,
        SheetReading.Refused refused => throw new InputError(field, (refused.Row is { } row ? $"Row {row}: " : "") + refused.Reason),
        _ => throw new InputError(field, "The table is empty."),
    };

    public bool Has(string column) => columns.ContainsKey(Plain(column));

    internal string? Text(SheetRow row, string column) =>
        columns.TryGetValue(Plain(column), out var index) && !row[index].IsBlank ? row[index].Text.Trim() : null;

    internal double? Number(SheetRow row, string column, int index)
    {
        if (Text(row, column) is not { } text)
            return null;
        return NumberText.TryParse(text, out var number, out var refusal) ? (double)number : throw new InputError($"{field}/{index}", $"Row {row.Number}, {column}: {refusal}");
    }

    private static string Plain(string text) => string.Concat(text.Where(char.IsLetterOrDigit)).ToLowerInvariant();
}

/// <summary>One row below the head.</summary>
internal readonly record struct PastedRow(PastedTable Table, SheetRow Row, int Index)
{
    public string? Text(string column) => Table.Text(Row, column);

    public double? Number(string column) => Table.Number(Row, column, Index);

    public bool Flag(string column) => Text(column) is { } text && !text.Equals("no", StringComparison.OrdinalIgnoreCase) && text != "0";
}
