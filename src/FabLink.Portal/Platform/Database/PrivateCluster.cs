using System.Net;
using System.Net.Sockets;
using System.Security.Cryptography;
using Npgsql;

namespace FabLink.Portal.Platform.Database;

/// <summary>
/// A PostgreSQL server of the portal's own, in its data folder: made when missing, started, taken over when an earlier
/// portal left it running, started again when somebody kills it, stopped on dispose. It listens on 127.0.0.1 only, with a generated password that is kept in
/// <c>postgres.password</c> (mode 0600) beside it.
/// </summary>
public sealed class PrivateCluster : IAsyncDisposable
{
    private const string Superuser = "postgres";

    private readonly DataFolder folder;
    private readonly PrivateClusterOptions options;
    private readonly ILogger logger;
    private readonly ServerAccount account;
    private readonly PostgresBinaries binaries;
    private readonly string dataDirectory;
    private readonly string password;
    private readonly CancellationTokenSource stopping = new();
    private Task supervision = Task.CompletedTask;
    private int port;
    private bool disposed;

    private PrivateCluster(DataFolder folder, PrivateClusterOptions options, ILogger logger, ServerAccount account, PostgresBinaries binaries, string password)
    {
        (this.folder, this.options, this.logger, this.account, this.binaries, this.password) =
            (folder, options, logger, account, binaries, password);
        dataDirectory = DirectoryIn(folder.Path);
    }

    /// <summary>Connects as the superuser of the cluster to <see cref="PrivateClusterOptions.Database"/>.</summary>
    public string OwnerConnectionString => ConnectionStringTo(options.Database);

    /// <summary>The version of the server's programs, as they print it.</summary>
    public string Version => binaries.Version;

    /// <summary>True when the server was found running instead of being started.</summary>
    public bool Adopted { get; private set; }

    /// <summary>Where the server writes what it has to say.</summary>
    public string LogFile => Path.Combine(ServerFolder, "server.log");

    private string ServerFolder => Path.GetDirectoryName(dataDirectory)!;

    /// <summary>Starts or takes over the cluster in <paramref name="dataFolder"/>; returns when it accepts connections.</summary>
    /// <exception cref="PrivateClusterException">It cannot run here; the message says why and what to do.</exception>
    public static async Task<PrivateCluster> StartAsync(
        string dataFolder, PrivateClusterOptions options, ILogger logger, CancellationToken cancel = default)
    {
        var folder = DataFolder.Take(dataFolder);
        try
        {
            var account = ServerAccount.Find();
            var binaries = await PostgresBinaries.FindAsync(MajorOf(DirectoryIn(folder.Path)), folder.Path, cancel);
            var cluster = new PrivateCluster(folder, options, logger, account, binaries, KeptPassword(folder.Path));
            await cluster.StartAsync(cancel);
            cluster.supervision = Task.Run(() => cluster.SuperviseAsync(cluster.stopping.Token), CancellationToken.None);
            return cluster;
        }
        catch
        {
            folder.Dispose();
            throw;
        }
    }

    /// <summary>Stops the server that a killed portal left in <paramref name="dataFolder"/>, if one still runs; starts nothing.</summary>
    /// <exception cref="PrivateClusterException">The folder is in use by a living portal.</exception>
    public static async Task EndAbandonedAsync(string dataFolder, ILogger logger, CancellationToken cancel = default)
    {
        using var folder = DataFolder.Take(dataFolder);
        var data = DirectoryIn(folder.Path);
        if (PostmasterFile.Read(data)?.IsServerOf(data) != true) return;
        var binaries = await PostgresBinaries.FindAsync(MajorOf(data), folder.Path, cancel);
        await new PrivateCluster(folder, new PrivateClusterOptions(ForTests: true), logger, ServerAccount.Find(), binaries, "").StopAsync("immediate");
    }

    public async ValueTask DisposeAsync()
    {
        if (disposed) return;
        disposed = true;
        try
        {
            await stopping.CancelAsync();
            await supervision;
            await StopAsync("fast");
        }
        finally
        {
            stopping.Dispose();
            folder.Dispose();
        }
    }

    /// <summary>Lets go of the folder and leaves the server running, as a crash does.</summary>
    internal void Abandon()
    {
        disposed = true;
        stopping.Cancel();
        folder.Dispose();
    }

    private static string DirectoryIn(string folder) => Path.Combine(folder, "postgres", "data");

    private string ConnectionStringTo(string database) => new NpgsqlConnectionStringBuilder
    {
        Host = "127.0.0.1",
        Port = port,
        Username = Superuser,
        Password = password,
        Database = database,
    }.ConnectionString;

    private static int? MajorOf(string dataDirectory)
    {
        var file = Path.Combine(dataDirectory, "PG_VERSION");
        if (!File.Exists(file)) return null;
        var text = File.ReadAllText(file).Trim();
        return int.TryParse(text, out var major) ? major
            : throw new PrivateClusterException($"{file} says '{text}', which is no version of PostgreSQL that the portal knows.");
    }

    private static string KeptPassword(string folder)
    {
        var file = Path.Combine(folder, "postgres.password");
        if (File.Exists(file)) return File.ReadAllText(file).Trim();

        var fresh = Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(24));
        var access = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows()) access.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        // Written aside and renamed: a crash must not leave half a password.
        var aside = file + ".new";
        File.Delete(aside);
        using (var writer = new StreamWriter(aside, access)) writer.Write(fresh);
        File.Move(aside, file);
        return fresh;
    }

    private async Task StartAsync(CancellationToken cancel)
    {
        await account.MakeFolderAsync(ServerFolder, cancel);
        if (!Directory.Exists(dataDirectory)) await InitialiseAsync(cancel);

        if (await RunningAsync(cancel) is { } running)
        {
            port = running.Port;
            Adopted = true;
        }
        else
        {
            await LaunchAsync(keepPort: false, cancel);
        }

        await EnsureDatabaseAsync(cancel);
        logger.LogInformation("PostgreSQL {Version} {How} on 127.0.0.1:{Port}, data in {Folder}",
            Version, Adopted ? "was left running and is taken over" : "started", port, folder.Path);
    }

    /// <summary>Makes the data directory aside and renames it, so that an interrupted initdb leaves nothing that looks finished.</summary>
    private async Task InitialiseAsync(CancellationToken cancel)
    {
        var fresh = dataDirectory + ".new";
        var passwordFile = Path.Combine(ServerFolder, "initial");
        if (Directory.Exists(fresh)) Directory.Delete(fresh, recursive: true);
        try
        {
            // initdb reads the password from a file of its own account; ours stays readable to us alone.
            var written = OperatingSystem.IsWindows() ? await WriteAsync(passwordFile, password, cancel)
                : await Command.RunAsync(account.Prefix("sh", "-c", "umask 077 && cat > \"$1\"", "sh", passwordFile), password, cancel);
            if (written.ExitCode != 0) throw new PrivateClusterException($"{passwordFile} could not be written: {written.Output}");

            List<string> arguments =
            [
                binaries.Program("initdb"), "-D", fresh, "-U", Superuser, $"--pwfile={passwordFile}",
                "--auth=scram-sha-256", "--encoding=UTF8", OperatingSystem.IsLinux() ? "--locale=C.UTF-8" : "--locale=C",
            ];
            if (options.ForTests) arguments.Add("--no-sync");
            var made = await Command.RunAsync(account.Prefix(arguments), cancel: cancel);
            if (made.ExitCode != 0) throw new PrivateClusterException($"initdb failed in {fresh}: {made.Output}");
            Directory.Move(fresh, dataDirectory);
        }
        finally
        {
            File.Delete(passwordFile);
        }
    }

    private static async Task<CommandResult> WriteAsync(string file, string text, CancellationToken cancel)
    {
        await File.WriteAllTextAsync(file, text, cancel);
        return new CommandResult(0, "");
    }

    /// <summary>
    /// The server of this data directory when one is alive and accepts connections; null when there is none, after
    /// removing what a killed one left behind. One that is just starting or stopping is waited for.
    /// </summary>
    private async Task<PostmasterFile?> RunningAsync(CancellationToken cancel)
    {
        for (var deadline = Deadline(); ;)
        {
            var file = PostmasterFile.Read(dataDirectory);
            if (file is null || !file.IsServerOf(dataDirectory))
            {
                File.Delete(PostmasterFile.PathIn(dataDirectory));
                return null;
            }

            if (file.Status is "ready") return file;
            if (deadline.Passed)
                throw new PrivateClusterException($"PostgreSQL (process {file.Process}) in {folder.Path} stays at '{file.Status}'; see {LogFile}.");
            await Task.Delay(100, cancel);
        }
    }

    /// <summary>A killed server comes back on its own port, so that the connection string that was given out stays true.</summary>
    private async Task SuperviseAsync(CancellationToken cancel)
    {
        using var everySecond = new PeriodicTimer(TimeSpan.FromSeconds(1));
        try
        {
            while (await everySecond.WaitForNextTickAsync(cancel))
            {
                if (PostmasterFile.Read(dataDirectory) is { } file && file.IsServerOf(dataDirectory)) continue;
                logger.LogError("PostgreSQL in {Folder} is gone and is started again", folder.Path);
                try
                {
                    if (await RunningAsync(cancel) is null) await LaunchAsync(keepPort: true, cancel);
                }
                catch (PrivateClusterException failed)
                {
                    logger.LogError(failed, "PostgreSQL in {Folder} could not be started again; the next try follows", folder.Path);
                }
            }
        }
        catch (OperationCanceledException)
        {
            // The portal is stopping.
        }
    }

    private async Task LaunchAsync(bool keepPort, CancellationToken cancel)
    {
        for (var deadline = Deadline(); ;)
        {
            if (port == 0) port = FreePort();
            var settings = new List<string>
            {
                $"-p {port}", "-c listen_addresses=127.0.0.1",
                // No Unix socket: its path may not be longer than about 107 bytes, and nobody needs it.
                "-c unix_socket_directories=",
                $"-c max_connections={options.MaxConnections}",
            };
            if (options.ForTests) settings.AddRange(["-c fsync=off", "-c full_page_writes=off"]);
            var started = await Command.RunAsync(
                account.Prefix(binaries.Program("pg_ctl"), "start", "-D", dataDirectory, "-l", LogFile, "-w", "-t", Seconds(), "-o", string.Join(' ', settings)),
                cancel: cancel);
            if (started.ExitCode == 0) return;

            // The port may have been taken in between, and the children of a killed server need a moment to notice.
            if (deadline.Passed)
                throw new PrivateClusterException($"PostgreSQL did not start in {folder.Path}: {started.Output} {LastLinesOfLog()}");
            if (!keepPort) port = 0;
            await Task.Delay(500, cancel);
        }
    }

    private async Task EnsureDatabaseAsync(CancellationToken cancel)
    {
        await using var connection = new NpgsqlConnection(ConnectionStringTo("postgres") + ";Pooling=false");
        await connection.OpenAsync(cancel);
        await using var exists = new NpgsqlCommand("select 1 from pg_database where datname = $1", connection) { Parameters = { new() { Value = options.Database } } };
        if (await exists.ExecuteScalarAsync(cancel) is not null) return;
        var quoted = new NpgsqlCommandBuilder().QuoteIdentifier(options.Database);
#pragma warning disable CA2100 // An identifier cannot be a parameter; it is quoted.
        await using var create = new NpgsqlCommand($"create database {quoted}", connection);
#pragma warning restore CA2100
        await create.ExecuteNonQueryAsync(cancel);
    }

    private async Task StopAsync(string mode)
    {
        if (PostmasterFile.Read(dataDirectory) is not { } file || !file.IsServerOf(dataDirectory)) return;
        // Pooled connections would otherwise be found dead one by one by whoever comes next.
        NpgsqlConnection.ClearAllPools();
        var stopped = await Command.RunAsync(account.Prefix(
            binaries.Program("pg_ctl"), "stop", "-D", dataDirectory, "-m", mode, "-w", "-t", Seconds()));
        if (stopped.ExitCode != 0 && PostmasterFile.Read(dataDirectory) is not null)
            throw new PrivateClusterException($"PostgreSQL in {folder.Path} did not stop: {stopped.Output}");
        logger.LogInformation("PostgreSQL in {Folder} stopped", folder.Path);
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    private string LastLinesOfLog() => File.Exists(LogFile)
        ? string.Join(Environment.NewLine, File.ReadLines(LogFile).TakeLast(10).Prepend($"The end of {LogFile}:"))
        : "";

    private TimeSpan Patience => options.StartTimeout ?? TimeSpan.FromSeconds(60);

    private string Seconds() => Math.Ceiling(Patience.TotalSeconds).ToString("0");

    private Stopwatched Deadline() => new(System.Diagnostics.Stopwatch.StartNew(), Patience);

    private readonly record struct Stopwatched(System.Diagnostics.Stopwatch Watch, TimeSpan Limit)
    {
        public bool Passed => Watch.Elapsed > Limit;
    }
}
