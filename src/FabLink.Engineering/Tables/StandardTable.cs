using System.Globalization;

namespace FabLink.Engineering.Tables;

/// <summary>
/// One table of a standard, embedded as <c>Tables/&lt;file&gt;.csv</c>: a first line with its source (edition and clause), then a header,
/// then rows. The code that uses it only looks up.
/// </summary>
internal sealed class StandardTable
{
    private readonly Dictionary<string, int> columns;

    private StandardTable(string source, string[] header, string[][] rows)
    {
        Source = source;
        Rows = rows;
        columns = header.Select((name, index) => (name, index)).ToDictionary(c => c.name, c => c.index, StringComparer.Ordinal);
    }

    /// <summary>Standard, edition and table, with what its numbers mean.</summary>
    public string Source { get; }

    /// <summary>Standard, edition and table only: the source line up to its colon.</summary>
    public string Citation
    {
        get
        {
            var end = Source.IndexOf(": ", StringComparison.Ordinal);
            return end < 0 ? Source : Source[..end];
        }
    }

    public IReadOnlyList<string[]> Rows { get; }

    public IEnumerable<string> Columns => columns.OrderBy(c => c.Value).Select(c => c.Key);

    public bool HasColumn(string name) => columns.ContainsKey(name);

    public string Cell(string[] row, string column) => row[columns[column]];

    /// <param name="file">The file's name without folder.</param>
    public static StandardTable Load(string file)
    {
        using var stream = typeof(StandardTable).Assembly.GetManifestResourceStream($"Tables/{file}")
            ?? throw new InvalidOperationException($"The table {file} is not part of the library.");
        using var reader = new StreamReader(stream);
        var lines = reader.ReadToEnd().Split('\n').Select(line => line.Trim()).Where(line => line.Length > 0).ToArray();
        var source = string.Join(' ', lines.TakeWhile(line => line[0] == '#').Select(line => line[1..].Trim()));
        var body = lines.SkipWhile(line => line[0] == '#').Select(line => line.Split(',')).ToArray();
        return new StandardTable(source, body[0], body[1..]);
    }

    internal static decimal? Number(string cell) =>
        cell.Length == 0 ? null : decimal.Parse(cell, NumberStyles.Float, CultureInfo.InvariantCulture);
}
