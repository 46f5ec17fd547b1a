using System.Reflection;
using Dapper;
using DbUp;
using DbUp.Engine.Output;
using Hangfire.PostgreSql;
using Npgsql;

namespace FabLink.Portal.Platform.Database;

/// <summary>Brings a database to the present: the three roles, then the numbered SQL files, forward only.</summary>
public static class Migrator
{
    /// <summary>Any number; two portals that start at once wait for each other on it.</summary>
    private const long AdvisoryLock = 0x0FAB_114C;

    /// <param name="ownerConnectionString">A login that owns the database and may create roles.</param>
    /// <exception cref="InvalidOperationException">A migration failed; the message names it and nothing of it was kept.</exception>
    public static async Task MigrateAsync(string ownerConnectionString, CancellationToken cancellation)
    {
        // A migration of a large database takes as long as it takes, and so does waiting for the portal that runs it.
        ownerConnectionString = new NpgsqlConnectionStringBuilder(ownerConnectionString) { CommandTimeout = 0 }.ConnectionString;
        await using var source = NpgsqlDataSource.Create(ownerConnectionString);
        await using var guard = await source.OpenConnectionAsync(cancellation);
        await guard.ExecuteAsync(new CommandDefinition("select pg_advisory_lock(@AdvisoryLock)", new { AdvisoryLock }, cancellationToken: cancellation));
        try
        {
            foreach (var role in new[] { DataSources.AppRole, DataSources.JobsRole, DataSources.SignInRole })
                await EnsureRoleAsync(guard, role, DataSources.PasswordOf(role, ownerConnectionString));
            var result = DeployChanges.To.PostgresqlDatabase(ownerConnectionString)
                .WithScriptsEmbeddedInAssembly(Assembly.GetExecutingAssembly(), name => name.EndsWith(".sql", StringComparison.Ordinal))
                .WithTransactionPerScript()
                .WithVariablesDisabled()
                .LogTo(new NoUpgradeLog())
                .Build()
                .PerformUpgrade();
            if (!result.Successful)
                throw new InvalidOperationException($"Migration {result.ErrorScript?.Name} failed: {result.Error.Message}", result.Error);
            await guard.ExecuteAsync("select watch_who_and_when()");
            await InstallHangfireAsync(source, cancellation);
        }
        finally
        {
            await guard.ExecuteAsync("select pg_advisory_unlock(@AdvisoryLock)", new { AdvisoryLock });
        }
    }

    /// <summary>
    /// Hangfire keeps its own tables; the owner makes them and the jobs role works in them. Its installer passes over some lost connections and
    /// fails on the next command; what it has done is kept, so it goes on with a new connection.
    /// </summary>
    private static async Task InstallHangfireAsync(NpgsqlDataSource source, CancellationToken cancellation)
    {
        const int Attempts = 3;
        await using var connection = await source.OpenConnectionAsync(cancellation);
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                PostgreSqlObjectsInstaller.Install(connection, "hangfire");
                break;
            }
            catch (Exception lost) when (lost is InvalidOperationException or NpgsqlException && attempt < Attempts && connection.State != System.Data.ConnectionState.Open)
            {
                await connection.OpenAsync(cancellation);
            }
        }

        const string Grant = """
            grant usage on schema hangfire to fablink_jobs;
            grant select, insert, update, delete on all tables in schema hangfire to fablink_jobs;
            grant usage, select on all sequences in schema hangfire to fablink_jobs
            """;
        await connection.ExecuteAsync(Grant);
    }

    private static async Task EnsureRoleAsync(NpgsqlConnection connection, string role, string password)
    {
        // Roles belong to the whole cluster: two databases of one cluster may come here at once, so "exists already" is an answer.
        const string Ensure = """
            select format($f$
                do $d$ begin
                    create role %1$I login nosuperuser nocreatedb nocreaterole noinherit nobypassrls;
                exception when duplicate_object or unique_violation then null;
                end $d$;
                $f$, @role) ||
                format('alter role %1$I password %2$L', @role, @password)
            """;
        var statement = await connection.ExecuteScalarAsync<string>(Ensure, new { role, password });
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                await connection.ExecuteAsync(statement!);
                return;
            }
            catch (PostgresException busy) when (attempt < 5 && busy.MessageText.Contains("concurrently updated", StringComparison.Ordinal))
            {
                await Task.Delay(50 * attempt);
            }
        }
    }

    private sealed class NoUpgradeLog : IUpgradeLog
    {
        public void LogTrace(string format, params object[] args)
        {
        }

        public void LogDebug(string format, params object[] args)
        {
        }

        public void LogInformation(string format, params object[] args)
        {
        }

        public void LogWarning(string format, params object[] args)
        {
        }

        public void LogError(string format, params object[] args)
        {
        }

        public void LogError(Exception ex, string format, params object[] args)
        {
        }
    }
}
