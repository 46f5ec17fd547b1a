using System.Runtime.InteropServices;
using System.Text;

namespace FabLink.Portal.Platform.Files;

/// <summary>A renamed file survives a power cut only when its folder is on the disk too (POSIX fsync); Windows sees to that itself.</summary>
internal static class FolderFlush
{
    private const int ReadOnly = 0;

    /// <exception cref="IOException">The folder cannot be opened or flushed.</exception>
    public static void ToDisk(string folder)
    {
        if (OperatingSystem.IsWindows())
            return;
        var handle = NativeMethods.Open(Encoding.UTF8.GetBytes(folder + "\0"), ReadOnly);
        if (handle < 0)
            throw Failed(folder);
        try
        {
            if (NativeMethods.Flush(handle) != 0)
                throw Failed(folder);
        }
        finally
        {
            _ = NativeMethods.Close(handle);
        }
    }

    private static IOException Failed(string folder) => new($"{folder} could not be flushed to the disk: {Marshal.GetLastPInvokeErrorMessage()}.");

    private static class NativeMethods
    {
        [DllImport("libc", EntryPoint = "open", SetLastError = true)]
        [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
        public static extern int Open(byte[] path, int flags);

        [DllImport("libc", EntryPoint = "fsync", SetLastError = true)]
        [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
        public static extern int Flush(int handle);

        [DllImport("libc", EntryPoint = "close", SetLastError = true)]
        [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
        public static extern int Close(int handle);
    }
}
