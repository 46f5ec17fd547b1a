namespace FabLink.Testing;

/// <summary>Where things are in the working copy that the tests were built from.</summary>
public static class Repository
{
    /// <summary>The folder that holds FabLink.sln.</summary>
    public static string Root { get; } = Find();

    public static string PathTo(params string[] parts) => Path.Combine([Root, .. parts]);

    private static string Find()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
            if (File.Exists(Path.Combine(folder.FullName, "FabLink.sln"))) return folder.FullName;
        throw new InvalidOperationException($"FabLink.sln is in no folder above {AppContext.BaseDirectory}.");
    }
}
