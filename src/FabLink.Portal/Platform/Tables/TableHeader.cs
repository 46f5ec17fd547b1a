namespace FabLink.Portal.Platform.Tables;

/// <summary>Which column is which, and what stood above: found by the words people use, in any order.</summary>
/// <typeparam name="TField">The columns that matter; others are listed in <see cref="Ignored"/>.</typeparam>
public sealed class TableHeader<TField>
    where TField : struct, Enum
{
    private const int RowsLookedAt = 50;

    private readonly Dictionary<TField, (int Column, string Hint)> columns = [];

    private TableHeader(int index) => Index = index;

    /// <summary>Of the header row in <see cref="Sheet.Rows"/>; the data begin behind it.</summary>
    public int Index { get; }

    public List<string> Ignored { get; } = [];

    /// <summary>Fields that two columns claim, with the second one's heading.</summary>
    public List<(TField Field, string Heading)> Doubled { get; } = [];

    public int LastColumn { get; private set; } = -1;

    /// <summary>Counted from 0; -1 when there is no such column.</summary>
    public int Column(TField field) => columns.TryGetValue(field, out var found) ? found.Column : -1;

    /// <summary>What the heading has in brackets: <c>mm</c> in <c>Value (mm)</c>; empty when nothing.</summary>
    public string Hint(TField field) => columns.TryGetValue(field, out var found) ? found.Hint : "";

    public bool Has(TField field) => columns.ContainsKey(field);

    /// <summary>The first row that names every required column; null when none of the first rows does.</summary>
    public static TableHeader<TField>? Find(Sheet sheet, IReadOnlyDictionary<string, TField> names, Func<TableHeader<TField>, bool> isEnough)
    {
        for (var index = 0; index < sheet.Rows.Count && index < RowsLookedAt; index++)
        {
            var header = new TableHeader<TField>(index);
            header.Take(sheet.Rows[index], names);
            if (isEnough(header))
                return header;
        }

        return null;
    }

    /// <summary>Lines above the header such as <c>Revision;B</c> or <c>Revision: B</c>.</summary>
    public IEnumerable<(int Row, TField Field, string Value)> Above(Sheet sheet, IReadOnlyDictionary<string, TField> names)
    {
        foreach (var row in sheet.Rows.Take(Index))
        {
            var (word, value) = (row[0].Text, row[1].Text);
            if (value.Length == 0 && word.IndexOf(':', StringComparison.Ordinal) is var colon and > 0)
                (word, value) = (word[..colon], word[(colon + 1)..]);
            if (!string.IsNullOrWhiteSpace(value) && names.TryGetValue(Heading.Of(word).Name, out var field))
                yield return (row.Number, field, value.Trim());
        }
    }

    private void Take(SheetRow row, IReadOnlyDictionary<string, TField> names)
    {
        for (var column = 0; column < row.Count; column++)
        {
            if (row[column].IsBlank)
                continue;
            LastColumn = column;
            var heading = Heading.Of(row[column].Text);
            if (!names.TryGetValue(heading.Name, out var field))
                Ignored.Add(row[column].Text.Trim());
            else if (!columns.TryAdd(field, (column, heading.Hint)))
                Doubled.Add((field, row[column].Text.Trim()));
        }
    }

    private readonly record struct Heading(string Name, string Hint)
    {
        /// <summary>Letters and digits in lower case, what is in brackets apart; <c>#</c> and <c>±</c> mean themselves.</summary>
        public static Heading Of(string text)
        {
            var open = text.AsSpan().IndexOfAny('(', '[');
            var close = open < 0 ? -1 : text.AsSpan(open).IndexOfAny(')', ']');
            var hint = close < 0 ? "" : text.Substring(open + 1, close - 1).Trim();
            var words = open < 0 ? text : text[..open];
            var name = string.Concat(words.Where(char.IsLetterOrDigit)).ToLowerInvariant();
            return new Heading(name.Length > 0 ? name : words.Trim(), hint);
        }
    }
}
