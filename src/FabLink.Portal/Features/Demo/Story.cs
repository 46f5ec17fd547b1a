using Dapper;
using Npgsql;

namespace FabLink.Portal.Features.Demo;

/// <summary>
/// While a story is told, the database takes days that are past from the portal; otherwise what is said is said now.
/// Only the owner of the database begins and ends one.
/// </summary>
public static class Story
{
    public static Task BeginAsync(string ownerConnectionString, CancellationToken cancellation) =>
        RunAsync(ownerConnectionString, "insert into story default values on conflict do nothing", cancellation);

    public static Task EndAsync(string ownerConnectionString, CancellationToken cancellation) =>
        RunAsync(ownerConnectionString, "delete from story", cancellation);

    private static async Task RunAsync(string ownerConnectionString, string sql, CancellationToken cancellation)
    {
        await using var source = NpgsqlDataSource.Create(ownerConnectionString);
        await using var connection = await source.OpenConnectionAsync(cancellation);
        await connection.ExecuteAsync(new CommandDefinition(sql, cancellationToken: cancellation));
    }
}
