using System.Buffers;
using System.Security.Cryptography;

namespace FabLink.Portal.Platform.Files;

/// <summary>
/// Files by the SHA-256 of their content, in a folder outside the web root. The same content is kept once. A file is
/// there whole or not at all: it is written aside, flushed to the disk, then renamed, and its folder flushed too. Who may read which file is not
/// decided here.
/// </summary>
public sealed class FileStore
{
    private readonly string folder;
    private readonly string incoming;

    public FileStore(string folder)
    {
        this.folder = Path.GetFullPath(folder);
        incoming = Path.Combine(this.folder, "incoming");
        MakePrivate(this.folder);
        MakePrivate(incoming);
    }

    /// <summary>Takes a file in, at most as large as the rule allows, whatever length was announced.</summary>
    /// <param name="name">As the person knows it; only for messages.</param>
    /// <exception cref="FileRefused">Empty, too large, or not of an accepted type by its content.</exception>
    public async Task<StoredFile> SaveAsync(Stream content, string name, FileRule rule, CancellationToken cancel)
    {
        var shown = FileNames.Safe(name);
        var aside = Path.Combine(incoming, Guid.CreateVersion7().ToString("n"));
        try
        {
            await using var file = new FileStream(aside, Options());
            var (sha, size) = await CopyAsync(content, file, shown, rule, cancel);
            var type = FileRecognition.Recognise(file)
                ?? throw new FileRefused($"'{shown}' is not accepted here: by its content it is none of {rule.AcceptedNames}.");
            if (!rule.Accepted.Contains(type))
                throw new FileRefused($"'{shown}' is {type.Name} by its content; accepted here: {rule.AcceptedNames}.");

            var target = PathOf(sha);
            if (File.Exists(target)) return new StoredFile(sha, size, type);
            RandomAccess.FlushToDisk(file.SafeFileHandle);
            var shelf = Path.GetDirectoryName(target)!;
            if (!Directory.Exists(shelf))
            {
                MakePrivate(shelf);
                FolderFlush.ToDisk(folder);
            }

            // The same content from two uploads at once: the later rename replaces it by itself.
            File.Move(aside, target, overwrite: true);
            FolderFlush.ToDisk(shelf);
            return new StoredFile(sha, size, type);
        }
        finally
        {
            File.Delete(aside);
        }
    }

    /// <exception cref="ArgumentException">Not 64 lower-case hexadecimal digits.</exception>
    /// <exception cref="FileNotFoundException">The store does not hold it.</exception>
    public FileStream OpenRead(string sha256) =>
        new(PathOf(sha256), new FileStreamOptions { Options = FileOptions.Asynchronous | FileOptions.SequentialScan });

    public bool Holds(string sha256) => File.Exists(PathOf(sha256));

    /// <summary>Removes what uploads left behind that never came to their end.</summary>
    /// <returns>How many there were.</returns>
    public int Sweep(DateTimeOffset olderThan)
    {
        var swept = 0;
        foreach (var file in new DirectoryInfo(incoming).EnumerateFiles().Where(file => file.LastWriteTimeUtc < olderThan.UtcDateTime))
        {
            file.Delete();
            swept++;
        }

        return swept;
    }

    private static FileStreamOptions Options()
    {
        var options = new FileStreamOptions
        {
            Mode = FileMode.CreateNew,
            Access = FileAccess.ReadWrite,
            Share = FileShare.Read | FileShare.Delete,
            Options = FileOptions.Asynchronous,
        };
        if (!OperatingSystem.IsWindows()) options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        return options;
    }

    private static async Task<(string Sha256, long Size)> CopyAsync(Stream content, FileStream file, string shown, FileRule rule, CancellationToken cancel)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        var buffer = ArrayPool<byte>.Shared.Rent(128 * 1024);
        try
        {
            long size = 0;
            while (await content.ReadAsync(buffer, cancel) is var read and > 0)
            {
                size += read;
                if (size > rule.MaximumBytes)
                    throw new FileRefused($"'{shown}' is larger than the {rule.MaximumBytes / 1e6:0.#} MB that are accepted here ({rule.AcceptedNames}).");
                hash.AppendData(buffer, 0, read);
                await file.WriteAsync(buffer.AsMemory(0, read), cancel);
            }

            if (size == 0) throw new FileRefused($"'{shown}' is empty; accepted here: {rule.AcceptedNames}.");
            await file.FlushAsync(cancel);
            return (Convert.ToHexStringLower(hash.GetHashAndReset()), size);
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(buffer);
        }
    }

    private string PathOf(string sha256)
    {
        if (sha256.Length != 64 || !sha256.All(char.IsAsciiHexDigitLower))
            throw new ArgumentException("A file is named by 64 lower-case hexadecimal digits.", nameof(sha256));
        return Path.Combine(folder, sha256[..2], sha256);
    }

    private static void MakePrivate(string path)
    {
        if (OperatingSystem.IsWindows()) Directory.CreateDirectory(path);
        else Directory.CreateDirectory(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
    }
}
