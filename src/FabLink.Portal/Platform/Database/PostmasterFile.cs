using System.Diagnostics;

namespace FabLink.Portal.Platform.Database;

/// <summary>
/// What a running server wrote about itself into <c>postmaster.pid</c>: process, port, and how far it is. The file
/// outlives a server that was killed, so a file alone proves nothing.
/// </summary>
internal sealed record PostmasterFile(int Process, int Port, string Status)
{
    public static PostmasterFile? Read(string dataDirectory)
    {
        string[] lines;
        try
        {
            lines = File.ReadAllLines(PathIn(dataDirectory));
        }
        catch (IOException) when (!File.Exists(PathIn(dataDirectory)))
        {
            return null;
        }

        return lines.Length >= 4 && int.TryParse(lines[0], out var process) && int.TryParse(lines[3], out var port)
            ? new PostmasterFile(Math.Abs(process), port, lines.Length >= 8 ? lines[7].Trim() : "starting")
            : null;
    }

    public static string PathIn(string dataDirectory) => Path.Combine(dataDirectory, "postmaster.pid");

    /// <summary>
    /// True when the process that the file names is alive and is the server of this very data directory: process
    /// numbers are given out again, most quickly in containers, where the next holder may well be another PostgreSQL.
    /// </summary>
    public bool IsServerOf(string dataDirectory)
    {
        try
        {
            using var process = System.Diagnostics.Process.GetProcessById(Process);
            if (process.HasExited || !process.ProcessName.StartsWith("postgres", StringComparison.OrdinalIgnoreCase)) return false;
            // The server changes into its data directory; Linux shows that.
            return !OperatingSystem.IsLinux()
                || Directory.ResolveLinkTarget($"/proc/{Process}/cwd", returnFinalTarget: false) is not { } folder
                || Path.TrimEndingDirectorySeparator(folder.FullName) == Path.TrimEndingDirectorySeparator(RealPath(dataDirectory));
        }
        catch (ArgumentException)
        {
            return false;
        }
        catch (InvalidOperationException)
        {
            return false;
        }
        catch (Exception denied) when (denied is UnauthorizedAccessException or IOException)
        {
            // Somebody else's process: it cannot be the server that we started.
            return false;
        }
    }

    private static string RealPath(string path)
    {
        var real = Path.GetPathRoot(path)!;
        foreach (var name in Path.GetRelativePath(real, path).Split(Path.DirectorySeparatorChar))
        {
            real = Path.Combine(real, name);
            if (Directory.ResolveLinkTarget(real, returnFinalTarget: true) is { } target) real = target.FullName;
        }

        return real;
    }
}
