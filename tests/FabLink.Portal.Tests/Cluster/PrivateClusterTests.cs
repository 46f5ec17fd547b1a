using System.Diagnostics;
using FabLink.Portal.Platform.Database;
using FabLink.Testing;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;

namespace FabLink.Portal.Tests.Cluster;

public sealed class PrivateClusterTests : IDisposable
{
    private static readonly PrivateClusterOptions ForTests = new(ForTests: true, StartTimeout: TimeSpan.FromSeconds(30));
    private readonly string folder = Directory.CreateTempSubdirectory("fablink-cluster-").FullName;

    public void Dispose()
    {
        PrivateCluster.EndAbandonedAsync(folder, NullLogger.Instance).GetAwaiter().GetResult();
        Directory.Delete(folder, recursive: true);
    }

    [Fact]
    public async Task A_fresh_cluster_accepts_connections_and_keeps_its_rows_over_a_restart()
    {
        await using (var first = await StartAsync())
        {
            Assert.False(first.Adopted);
            await RunAsync(first, "create table kept (x int); insert into kept values (7)");
        }

        Assert.Null(PostmasterFile.Read(DataDirectory));
        await using var second = await StartAsync();
        Assert.Equal(7, await RunAsync(second, "select x from kept"));
    }

    [Fact]
    public async Task The_password_is_needed_and_readable_by_the_owner_alone()
    {
        await using var cluster = await StartAsync();
        var wrong = new NpgsqlConnectionStringBuilder(cluster.OwnerConnectionString) { Password = "guess", Pooling = false };

        await using var connection = new NpgsqlConnection(wrong.ConnectionString);
        var refused = await Assert.ThrowsAsync<PostgresException>(() => connection.OpenAsync());

        Assert.Equal(PostgresErrorCodes.InvalidPassword, refused.SqlState);
        Assert.Equal("scram-sha-256", await RunAsync(cluster, "show password_encryption"));
        if (!OperatingSystem.IsWindows())
            Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(Path.Combine(folder, "postgres.password")));
    }

    [Fact]
    public async Task A_server_left_running_by_a_crashed_portal_is_taken_over_and_not_doubled()
    {
        var abandoned = await StartAsync();
        var running = PostmasterFile.Read(DataDirectory)!;
        // What a crash does to the lock: the system drops it, the server goes on.
        abandoned.Abandon();

        await using var next = await StartAsync();

        Assert.True(next.Adopted);
        Assert.Equal(running.Process, PostmasterFile.Read(DataDirectory)!.Process);
        Assert.Equal(1, await RunAsync(next, "select 1"));
    }

    [Fact]
    public async Task What_a_killed_server_left_behind_does_not_stop_the_next()
    {
        var first = await StartAsync();
        await RunAsync(first, "create table kept (x int); insert into kept values (7)");
        NpgsqlConnection.ClearAllPools();
        first.Abandon();
        using (var server = Process.GetProcessById(PostmasterFile.Read(DataDirectory)!.Process))
        {
            server.Kill();
            await server.WaitForExitAsync();
        }

        Assert.NotNull(PostmasterFile.Read(DataDirectory));

        await using var second = await StartAsync();
        Assert.False(second.Adopted);
        Assert.Equal(7, await RunAsync(second, "select x from kept"));
    }

    [Fact]
    public async Task A_server_killed_under_a_living_portal_comes_back_at_the_same_address()
    {
        await using var cluster = await StartAsync();
        await RunAsync(cluster, "create table kept (x int); insert into kept values (7)");
        var address = cluster.OwnerConnectionString;
        using (var server = Process.GetProcessById(PostmasterFile.Read(DataDirectory)!.Process)) server.Kill();

        object? kept = null;
        for (var patience = Stopwatch.StartNew(); kept is null && patience.Elapsed < TimeSpan.FromSeconds(60); await Task.Delay(200))
        {
            try
            {
                kept = await RunAsync(cluster, "select x from kept");
            }
            catch (NpgsqlException)
            {
                // Not back yet.
            }
        }

        Assert.Equal(7, kept);
        Assert.Equal(address, cluster.OwnerConnectionString);
    }

    [Fact]
    public async Task A_process_number_given_out_again_is_not_taken_for_the_server()
    {
        await using (await StartAsync()) { }
        await File.WriteAllTextAsync(PostmasterFile.PathIn(DataDirectory),
            $"{Environment.ProcessId}\n{DataDirectory}\n1\n5432\n\n127.0.0.1\n\nready\n");

        await using var cluster = await StartAsync();

        Assert.False(cluster.Adopted);
        Assert.Equal(1, await RunAsync(cluster, "select 1"));
    }

    [Fact]
    public async Task A_second_portal_on_the_same_folder_is_told_who_holds_it()
    {
        await using var first = await StartAsync();

        var refused = await Assert.ThrowsAsync<PrivateClusterException>(StartAsync);

        Assert.Contains($"process {Environment.ProcessId}", refused.Message);
        Assert.Contains(folder, refused.Message);
        Assert.Equal(1, await RunAsync(first, "select 1"));
    }

    [Fact]
    public async Task A_folder_made_by_another_major_version_is_refused_by_name()
    {
        Directory.CreateDirectory(DataDirectory);
        await File.WriteAllTextAsync(Path.Combine(DataDirectory, "PG_VERSION"), "9\n");

        var refused = await Assert.ThrowsAsync<PrivateClusterException>(StartAsync);

        Assert.Contains("made by PostgreSQL 9", refused.Message);
        Assert.Contains("FABLINK_POSTGRES_BIN", refused.Message);
    }

    [Fact]
    public async Task The_portal_that_cannot_have_its_database_says_why_and_nothing_else()
    {
        Directory.CreateDirectory(DataDirectory);
        await File.WriteAllTextAsync(Path.Combine(DataDirectory, "PG_VERSION"), "9\n", TestContext.Current.CancellationToken);
        var start = new System.Diagnostics.ProcessStartInfo("dotnet") { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (var argument in new[] { Path.Combine(AppContext.BaseDirectory, "FabLink.Portal.dll"), "--contentRoot", Repository.PathTo("src", "FabLink.Portal"), $"--Data:Folder={folder}" })
            start.ArgumentList.Add(argument);
        start.Environment.Remove("ConnectionStrings__FabLink");

        using var portal = System.Diagnostics.Process.Start(start)!;
        var said = portal.StandardOutput.ReadToEndAsync(TestContext.Current.CancellationToken);
        var complained = await portal.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
        await portal.WaitForExitAsync(TestContext.Current.CancellationToken);

        Assert.Equal(1, portal.ExitCode);
        Assert.Contains("made by PostgreSQL 9", Assert.Single(complained.Trim().Split('\n')), StringComparison.Ordinal);
        Assert.Equal("", (await said).Trim());
    }

    [Fact]
    public async Task A_folder_inside_the_repository_is_refused()
    {
        var inside = Path.Combine(AppContext.BaseDirectory, "data");

        var refused = await Assert.ThrowsAsync<PrivateClusterException>(
            () => PrivateCluster.StartAsync(inside, ForTests, NullLogger.Instance));

        Assert.Contains("inside the repository", refused.Message);
        Assert.False(Directory.Exists(inside));
    }

    [Fact]
    public async Task An_interrupted_initdb_leaves_nothing_that_looks_finished()
    {
        Directory.CreateDirectory(DataDirectory + ".new");
        await File.WriteAllTextAsync(Path.Combine(DataDirectory + ".new", "PG_VERSION"), "15\n");

        await using var cluster = await StartAsync();

        Assert.Equal(1, await RunAsync(cluster, "select 1"));
        Assert.False(Directory.Exists(DataDirectory + ".new"));
    }

    [Fact]
    public async Task A_long_data_folder_is_no_obstacle()
    {
        // sun_path holds 108 bytes (POSIX leaves the size open; Linux unix(7)): the server must not depend on it.
        var deep = Path.Combine(folder, new string('d', 120));
        if (!OperatingSystem.IsWindows()) File.SetUnixFileMode(folder, File.GetUnixFileMode(folder) | UnixFileMode.OtherExecute);
        await using var cluster = await PrivateCluster.StartAsync(deep, ForTests, NullLogger.Instance);

        Assert.Equal(1, await RunAsync(cluster, "select 1"));
    }

    private string DataDirectory => Path.Combine(folder, "postgres", "data");

    private Task<PrivateCluster> StartAsync() =>
        PrivateCluster.StartAsync(folder, ForTests, NullLogger.Instance, TestContext.Current.CancellationToken);

    private static async Task<object?> RunAsync(PrivateCluster cluster, string sql)
    {
        await using var connection = new NpgsqlConnection(cluster.OwnerConnectionString);
        await connection.OpenAsync(TestContext.Current.CancellationToken);
        await using var command = new NpgsqlCommand(sql, connection);
        return await command.ExecuteScalarAsync(TestContext.Current.CancellationToken);
    }
}
