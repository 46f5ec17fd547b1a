using System.Globalization;

namespace FabLink.Portal.Platform.Database;

/// <summary>
/// The portal's data folder, held by one process at a time: an advisory lock on <c>portal.lock</c> that the system
/// drops when the process ends, however it ends.
/// </summary>
internal sealed class DataFolder : IDisposable
{
    private readonly FileStream lockFile;

    private DataFolder(string path, FileStream lockFile)
    {
        Path = path;
        this.lockFile = lockFile;
    }

    public string Path { get; }

    /// <summary>Makes the folder when it is missing and takes it, or says who holds it.</summary>
    public static DataFolder Take(string folder)
    {
        var path = System.IO.Path.TrimEndingDirectorySeparator(System.IO.Path.GetFullPath(folder));
        for (var parent = new DirectoryInfo(path); parent is not null; parent = parent.Parent)
            if (File.Exists(System.IO.Path.Combine(parent.FullName, "FabLink.sln")) || System.IO.Path.Exists(System.IO.Path.Combine(parent.FullName, ".git")))
                throw new PrivateClusterException($"The data folder {path} lies inside the repository {parent.FullName}: choose one outside it (FABLINK_DATA).");

        Directory.CreateDirectory(path);
        // The server's account must be able to pass through (not to list) when the portal runs as root.
        if (!OperatingSystem.IsWindows() && Environment.IsPrivilegedProcess)
            File.SetUnixFileMode(path, File.GetUnixFileMode(path) | UnixFileMode.GroupExecute | UnixFileMode.OtherExecute);

        var lockPath = System.IO.Path.Combine(path, "portal.lock");
        try
        {
            var file = new FileStream(lockPath, FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
            // Beside the lock, because nobody else can open the locked file to read it.
            File.WriteAllText(HolderFile(path), Environment.ProcessId.ToString(CultureInfo.InvariantCulture));
            return new DataFolder(path, file);
        }
        catch (IOException) when (File.Exists(lockPath))
        {
            throw new PrivateClusterException(
                $"Another portal (process {Holder(path)}) already uses the data folder {path}: stop it first, or choose another folder (FABLINK_DATA).");
        }
    }

    private static string HolderFile(string path) => System.IO.Path.Combine(path, "portal.pid");

    private static string Holder(string path) => File.Exists(HolderFile(path)) ? File.ReadAllText(HolderFile(path)) : "unknown";

    public void Dispose() => lockFile.Dispose();
}
