using System.Security.Cryptography;
using System.Text;
using Npgsql;

namespace FabLink.Portal.Platform.Database;

/// <summary>
/// The three roles the portal works as. The owner (who migrates) is none of them and is not kept open:
/// <c>app</c> serves requests under row-level security, <c>jobs</c> sweeps and delivers,
/// <c>signin</c> finds out who somebody is before there is an actor.
/// </summary>
public sealed class DataSources : IAsyncDisposable
{
    public const string AppRole = "fablink_app";
    public const string JobsRole = "fablink_jobs";
    public const string SignInRole = "fablink_signin";

    public DataSources(string ownerConnectionString, ILoggerFactory? loggers = null)
    {
        App = Build(ownerConnectionString, AppRole, 40, loggers);
        Jobs = Build(ownerConnectionString, JobsRole, 15, loggers);
        SignIn = Build(ownerConnectionString, SignInRole, 10, loggers);
    }

    public NpgsqlDataSource App { get; }

    public NpgsqlDataSource Jobs { get; }

    public NpgsqlDataSource SignIn { get; }

    /// <summary>
    /// The password of a role follows from the owner's, so that several portals on one database agree without sharing a file.
    /// HMAC-SHA-256 keyed with the owner's password; whoever knows the owner's password needs no other.
    /// </summary>
    public static string PasswordOf(string role, string ownerConnectionString)
    {
        var secret = new NpgsqlConnectionStringBuilder(ownerConnectionString).Password;
        if (string.IsNullOrEmpty(secret))
            throw new InvalidOperationException("The connection string 'FabLink' needs a password: the passwords of the portal's own roles follow from it.");
        return Convert.ToHexStringLower(HMACSHA256.HashData(Encoding.UTF8.GetBytes(secret), Encoding.UTF8.GetBytes(role)));
    }

    /// <summary>Forgets idle connections: after the server went away each of them would fail the next person once.</summary>
    public void Forget()
    {
        App.Clear();
        Jobs.Clear();
        SignIn.Clear();
    }

    public async ValueTask DisposeAsync()
    {
        await App.DisposeAsync();
        await Jobs.DisposeAsync();
        await SignIn.DisposeAsync();
    }

    private static NpgsqlDataSource Build(string ownerConnectionString, string role, int poolSize, ILoggerFactory? loggers)
    {
        DapperSetup.Once();
        var settings = new NpgsqlConnectionStringBuilder(ownerConnectionString)
        {
            Username = role,
            Password = PasswordOf(role, ownerConnectionString),
            MaxPoolSize = poolSize,
            MinPoolSize = 0,
            ApplicationName = role,
            MaxAutoPrepare = 40,
            AutoPrepareMinUsages = 3,
            Timeout = 10,
            CommandTimeout = 30,
        };
        var builder = new NpgsqlDataSourceBuilder(settings.ConnectionString);
        if (loggers is not null)
            builder.UseLoggerFactory(loggers);
        return builder.Build();
    }
}
