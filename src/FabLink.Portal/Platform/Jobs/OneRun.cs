using Dapper;
using Npgsql;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>
/// Works off what the outbox owes, one run at a time over all portals. Whoever finds another at work leaves the rest to it and is done:
/// that is no error, and nobody waits.
/// </summary>
public static class OneRun
{
    /// <param name="turn">Any number that no other kind of run uses; whoever holds it works.</param>
    /// <param name="due">The ids that are due now.</param>
    /// <param name="work">One of them; false when it is not due, taken by somebody else, or failed for now.</param>
    public static async Task AllDueAsync(
        NpgsqlDataSource jobs, long turn, string due, TimeProvider clock, Func<Guid, Task<bool>> work, CancellationToken cancellation)
    {
        var tried = new HashSet<Guid>();
        do
        {
            await using var connection = await jobs.OpenConnectionAsync(cancellation);
            await using var held = await connection.BeginTransactionAsync(cancellation);
            if (!await connection.ExecuteScalarAsync<bool>(new CommandDefinition("select pg_try_advisory_xact_lock(@turn)", new { turn }, held, cancellationToken: cancellation)))
                return;
            for (var done = 1; done > 0;)
            {
                done = 0;
                foreach (var id in await DueAsync())
                {
                    tried.Add(id);
                    done += await work(id) ? 1 : 0;
                }
            }
        }
        // What came to be owed in the last moment of this run was left to it by another: it looks once more after it has let go.
        while ((await DueAsync()).Except(tried).Any());

        async Task<IReadOnlyList<Guid>> DueAsync()
        {
            await using var connection = await jobs.OpenConnectionAsync(cancellation);
            return (await connection.QueryAsync<Guid>(new CommandDefinition(due, new { Now = clock.GetUtcNow() }, cancellationToken: cancellation))).AsList();
        }
    }
}
