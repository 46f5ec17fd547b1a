namespace FabLink.Engineering.Tests;

/// <summary>Outside values re-typed under Published/, each file with its source on its first line.</summary>
internal static class PublishedFile
{
    public static string[][] Rows(string name) =>
        [.. Lines(name).Select(line => line.Split(','))];

    /// <summary>Rows below a line of column names.</summary>
    public static string[][] RowsUnderHeader(string name) => Rows(name)[1..];

    private static IEnumerable<string> Lines(string name) =>
        File.ReadAllLines(Path.Combine(AppContext.BaseDirectory, "Published", name))
            .Where(line => line.Length > 0 && line[0] != '#');
}
