using System.Collections.Concurrent;
using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Platform.Database;
using FabLink.Testing;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;

namespace FabLink.Portal.Tests.Faults;

/// <summary>The portal as it is deployed: a process of its own over its own private cluster, so that both can be killed.</summary>
public sealed class PortalProcess : IAsyncDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("fablink-kill-").FullName;
    private readonly ConcurrentQueue<string> _said = new();
    private readonly int _port = FreePort();
    private Process? _portal;

    public Uri Address => new($"http://127.0.0.1:{_port}/");

    public string FilesFolder => Path.Combine(_folder, "files");

    public static async Task<PortalProcess> StartAsync()
    {
        var portal = new PortalProcess();
        try
        {
            await portal.UpAsync();
            return portal;
        }
        catch
        {
            await portal.DisposeAsync();
            throw;
        }
    }

    /// <summary>Starts the process and waits until it and its database are ready.</summary>
    public async Task UpAsync()
    {
        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (var argument in new[]
                 {
                     Path.Combine(AppContext.BaseDirectory, "FabLink.Portal.dll"), "--urls", Address.ToString(), "--contentRoot", Repository.PathTo("src", "FabLink.Portal"),
                     $"--Data:Folder={_folder}", "--Demo:Seed=true", $"--Demo:SampleData={Repository.PathTo("sample-data")}", "--SignIn:PerMinute=1000", "--Logging:LogLevel:Default=Warning",
                 })
            start.ArgumentList.Add(argument);
        start.Environment["ASPNETCORE_ENVIRONMENT"] = "Production";
        start.Environment.Remove("ConnectionStrings__FabLink");
        _portal = Process.Start(start)!;
        _portal.OutputDataReceived += (_, line) => _said.Enqueue(line.Data ?? "");
        _portal.ErrorDataReceived += (_, line) => _said.Enqueue(line.Data ?? "");
        _portal.BeginOutputReadLine();
        _portal.BeginErrorReadLine();
        await ReadyAsync();
    }

    public async Task ReadyAsync()
    {
        using var client = new HttpClient { BaseAddress = Address, Timeout = TimeSpan.FromSeconds(10) };
        for (var patience = Stopwatch.StartNew(); patience.Elapsed < TimeSpan.FromSeconds(120); await Task.Delay(100))
        {
            if (_portal!.HasExited)
                throw new InvalidOperationException($"The portal ended with {_portal.ExitCode}: {string.Join('\n', _said)}");
            try
            {
                using var health = await client.GetAsync(new Uri("/health", UriKind.Relative));
                if (health.StatusCode == HttpStatusCode.OK)
                    return;
            }
            catch (Exception away) when (away is HttpRequestException or TaskCanceledException)
            {
                // Not there yet; the clock above decides how long that is believed.
            }
        }

        throw new InvalidOperationException($"The portal does not come up: {string.Join('\n', _said)}");
    }

    public async Task<Person> SignInAsync(string email)
    {
        var person = new Person(Address);
        await person.SignInAsync(email, DemoPeople.Password);
        return person;
    }

    /// <summary>SIGKILL: no handler runs, no buffer is written.</summary>
    public async Task KillAsync()
    {
        _portal!.Kill();
        await _portal.WaitForExitAsync();
        _portal.Dispose();
    }

    /// <summary>SIGKILL to the PostgreSQL server under the living portal.</summary>
    public void KillDatabase()
    {
        var server = PostmasterFile.Read(Path.Combine(_folder, "postgres", "data")) ?? throw new InvalidOperationException("There is no server to kill.");
        using var process = Process.GetProcessById(server.Process);
        process.Kill();
        process.WaitForExit();
    }

    /// <summary>The superuser, past every policy.</summary>
    public async Task<NpgsqlConnection> OwnerAsync()
    {
        var server = PostmasterFile.Read(Path.Combine(_folder, "postgres", "data"))!;
        var connection = new NpgsqlConnection(new NpgsqlConnectionStringBuilder
        {
            Host = "127.0.0.1",
            Port = server.Port,
            Username = "postgres",
            Password = (await File.ReadAllTextAsync(Path.Combine(_folder, "postgres.password"))).Trim(),
            Database = "fablink",
            Pooling = false,
        }.ConnectionString);
        await connection.OpenAsync();
        return connection;
    }

    public async ValueTask DisposeAsync()
    {
        if (_portal is not null)
        {
            try
            {
                _portal.Kill();
                await _portal.WaitForExitAsync();
            }
            catch (InvalidOperationException)
            {
                // It was killed by the test already.
            }

            _portal.Dispose();
        }

        await PrivateCluster.EndAbandonedAsync(_folder, NullLogger.Instance);
        Directory.Delete(_folder, recursive: true);
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
