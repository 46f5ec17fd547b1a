namespace FabLink.Portal.Tests.Import;

/// <summary>Files from other projects that are tried but not kept in this repository.</summary>
internal static class OutsideFiles
{
    private const string Missing =
        "The folder of outside files is not here: set FABLINK_SHARED to a folder with data/hostile, or put it beside the repository as shared/data/hostile.";

    public static string Folder(string name)
    {
        var found = Candidates().Select(folder => Path.Combine(folder, "hostile", name)).FirstOrDefault(Path.Exists);
        Assert.SkipWhen(found is null, Missing);
        return found!;
    }

    public static IEnumerable<string> In(string folder, string pattern) =>
        Directory.EnumerateFiles(Folder(folder), pattern, SearchOption.AllDirectories).Order(StringComparer.Ordinal);

    public static string Repository { get; } = FindRepository();

    private static IEnumerable<string> Candidates()
    {
        if (Environment.GetEnvironmentVariable("FABLINK_SHARED") is { Length: > 0 } set)
        {
            yield return Path.Combine(set, "data");
            yield return set;
        }

        yield return Path.Combine(Repository, "..", "shared", "data");
    }

    private static string FindRepository()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "FabLink.sln")))
            folder = folder.Parent;
        return folder?.FullName ?? throw new DirectoryNotFoundException("No FabLink.sln above the tests.");
    }
}
