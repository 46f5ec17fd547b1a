using System.Net.Sockets;
using System.Text;
using FabLink.Portal.Platform.Database;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using Testcontainers.PostgreSql;

namespace FabLink.Testing;

/// <summary>
/// One PostgreSQL server per test process, started when the first test asks: in a container where a Docker engine
/// answers, else a private cluster in the temporary folder. <see cref="Description"/> says which.
/// </summary>
public sealed class TestCluster
{
    private const string Prefix = "fablink-test-";
    private static readonly Lazy<Task<TestCluster>> TheOne = new(StartAsync);

    private readonly Lazy<Task<string>> template;
    private readonly Func<ValueTask> stop;
    private int databases;

    private TestCluster(string adminConnectionString, string description, Func<ValueTask> stop)
    {
        (AdminConnectionString, Description, this.stop) = (adminConnectionString, description, stop);
        template = new(MakeTemplateAsync);
    }

    /// <summary>The superuser on the maintenance database <c>postgres</c>.</summary>
    public string AdminConnectionString { get; }

    /// <summary>Which server the tests run against, for a person.</summary>
    public string Description { get; }

    public static Task<TestCluster> SharedAsync() => TheOne.Value;

    /// <summary>A database of one's own with all migrations applied: a clone of a template, about a tenth of a second.</summary>
    public async Task<TestDatabase> CloneAsync() => await CreateAsync(await template.Value);

    /// <summary>A database of one's own with nothing in it.</summary>
    public Task<TestDatabase> EmptyAsync() => CreateAsync("template1");

    private async Task<TestDatabase> CreateAsync(string source)
    {
        var name = $"test_{Interlocked.Increment(ref databases)}";
        await ExecuteAsync($"create database {name} template {source}");
        return new TestDatabase(this, name, To(name));
    }

    internal Task DropAsync(string name) => ExecuteAsync($"drop database if exists {name} with (force)");

    private async Task<string> MakeTemplateAsync()
    {
        const string name = "migrated";
        await ExecuteAsync($"create database {name}");
        // No pool: a connection left open to a template would block every clone.
        await Migrator.MigrateAsync(To(name) + ";Pooling=false", CancellationToken.None);
        return name;
    }

    private string To(string database) =>
        new NpgsqlConnectionStringBuilder(AdminConnectionString) { Database = database, Pooling = true, MaxPoolSize = 20, IncludeErrorDetail = true }.ConnectionString;

    private async Task ExecuteAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(AdminConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<TestCluster> StartAsync()
    {
        var cluster = await InContainerAsync() ?? await PrivateAsync();
        // Test hosts end their process without telling static state; the server must not outlive them.
        AppDomain.CurrentDomain.ProcessExit += (_, _) => cluster.stop().AsTask().GetAwaiter().GetResult();
        Console.WriteLine($"Database of the tests: {cluster.Description}");
        if (Environment.GetEnvironmentVariable("FABLINK_TEST_NOTES") is { Length: > 0 } notes)
            await File.AppendAllTextAsync(notes, $"Database of the tests: {cluster.Description}{Environment.NewLine}");
        return cluster;
    }

    private static async Task<TestCluster?> InContainerAsync()
    {
        if (!await DockerAnswersAsync()) return null;
        try
        {
            var container = new PostgreSqlBuilder("postgres:17").WithCommand("-c", "fsync=off", "-c", "max_connections=200").Build();
            await container.StartAsync();
            return new TestCluster(
                new NpgsqlConnectionStringBuilder(container.GetConnectionString()) { Database = "postgres", Pooling = false }.ConnectionString,
                "PostgreSQL in a container (postgres:17)", container.DisposeAsync);
        }
        catch (Exception failed) when (failed is not OutOfMemoryException)
        {
            // An engine without access to the image: the private cluster does as well.
            Console.WriteLine($"The container did not start ({failed.Message}); the tests use a private cluster.");
            return null;
        }
    }

    /// <summary>The engine's own ping (GET /_ping); a client program without an engine does not count.</summary>
    private static async Task<bool> DockerAnswersAsync()
    {
        const string socketPath = "/var/run/docker.sock";
        if (!File.Exists(socketPath)) return false;
        try
        {
            using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(2));
            using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
            await socket.ConnectAsync(new UnixDomainSocketEndPoint(socketPath), limit.Token);
            await socket.SendAsync("GET /_ping HTTP/1.0\r\nHost: docker\r\n\r\n"u8.ToArray(), limit.Token);
            var answer = new byte[64];
            var length = await socket.ReceiveAsync(answer, limit.Token);
            return Encoding.ASCII.GetString(answer, 0, length).Contains(" 200 ", StringComparison.Ordinal);
        }
        catch (Exception silent) when (silent is SocketException or OperationCanceledException)
        {
            return false;
        }
    }

    private static async Task<TestCluster> PrivateAsync()
    {
        await SweepAbandonedAsync();
        var folder = Directory.CreateTempSubdirectory(Prefix).FullName;
        var cluster = await PrivateCluster.StartAsync(folder, new PrivateClusterOptions(ForTests: true), NullLogger.Instance);
        return new TestCluster(
            new NpgsqlConnectionStringBuilder(cluster.OwnerConnectionString) { Database = "postgres", Pooling = false }.ConnectionString,
            $"private cluster, PostgreSQL {cluster.Version}, in {folder}",
            async () =>
            {
                await cluster.DisposeAsync();
                Directory.Delete(folder, recursive: true);
            });
    }

    /// <summary>Ends the servers of test runs that were killed and removes their folders; a folder in use is left alone.</summary>
    private static async Task SweepAbandonedAsync()
    {
        foreach (var folder in Directory.GetDirectories(Path.GetTempPath(), Prefix + "*"))
        {
            if (!File.Exists(Path.Combine(folder, "portal.lock")) || Directory.GetCreationTimeUtc(folder) > DateTime.UtcNow.AddMinutes(-2)) continue;
            try
            {
                await PrivateCluster.EndAbandonedAsync(folder, NullLogger.Instance);
                Directory.Delete(folder, recursive: true);
            }
            catch (Exception inUse) when (inUse is PrivateClusterException or IOException or UnauthorizedAccessException)
            {
                Console.WriteLine($"{folder} is left alone: {inUse.Message}");
            }
        }
    }
}

/// <summary>A database of one test class; dropped on dispose.</summary>
public sealed class TestDatabase(TestCluster cluster, string name, string ownerConnectionString) : IAsyncDisposable
{
    public string Name { get; } = name;

    /// <summary>Connects as the superuser of the cluster, past every policy.</summary>
    public string OwnerConnectionString { get; } = ownerConnectionString;

    public async ValueTask DisposeAsync()
    {
        await using (var pooled = new NpgsqlConnection(OwnerConnectionString)) NpgsqlConnection.ClearPool(pooled);
        await cluster.DropAsync(Name);
    }
}
