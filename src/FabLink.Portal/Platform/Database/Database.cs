using System.Data;
using Dapper;
using FabLink.Portal.Platform.People;
using Npgsql;

namespace FabLink.Portal.Platform.Database;

/// <summary>The app's way into PostgreSQL: every unit of work belongs to an <see cref="Actor"/>.</summary>
public sealed class Database(DataSources sources)
{
    /// <summary>
    /// Opens a transaction in which the database knows who asks. Reads need it as much as writes:
    /// without a context the policies show nothing.
    /// </summary>
    public async Task<Work> BeginAsync(Actor actor, CancellationToken cancellation)
    {
        var connection = await sources.App.OpenConnectionAsync(cancellation);
        try
        {
            var transaction = await connection.BeginTransactionAsync(cancellation);
            const string SetContext =
                "select set_config('fablink.person', @Person, true), set_config('fablink.organisation', @Organisation, true)";
            await connection.ExecuteAsync(new CommandDefinition(
                SetContext,
                new { Person = actor.PersonId.ToString(), Organisation = actor.OrganisationId.ToString() },
                transaction,
                cancellationToken: cancellation));
            return new Work(actor, connection, transaction, cancellation);
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }
}

/// <summary>One transaction of one actor. Disposing without <see cref="CommitAsync"/> takes everything back.</summary>
public sealed class Work(Actor actor, NpgsqlConnection connection, NpgsqlTransaction transaction, CancellationToken cancellation) : IAsyncDisposable
{
    public Actor Actor { get; } = actor;

    public NpgsqlConnection Connection { get; } = connection;

    public CancellationToken Cancellation { get; } = cancellation;

    /// <summary>All rows of a query, as positional records.</summary>
    public async Task<IReadOnlyList<T>> RowsAsync<T>(string sql, object? args = null) =>
        (await Connection.QueryAsync<T>(Command(sql, args))).AsList();

    /// <summary>The only row of a query, or null when there is none (or none that this actor may see).</summary>
    public async Task<T?> RowAsync<T>(string sql, object? args = null)
        where T : class =>
        await Connection.QuerySingleOrDefaultAsync<T>(Command(sql, args));

    /// <summary>A single value; the default of <typeparamref name="T"/> when there is no row.</summary>
    public async Task<T?> ValueAsync<T>(string sql, object? args = null) =>
        await Connection.ExecuteScalarAsync<T>(Command(sql, args));

    /// <summary>How many rows were touched.</summary>
    public async Task<int> ExecuteAsync(string sql, object? args = null) =>
        await Connection.ExecuteAsync(Command(sql, args));

    public Task CommitAsync() => transaction.CommitAsync(Cancellation);

    public async ValueTask DisposeAsync()
    {
        await transaction.DisposeAsync();
        await Connection.DisposeAsync();
    }

    private CommandDefinition Command(string sql, object? args) =>
        new(sql, args, transaction, commandType: CommandType.Text, cancellationToken: Cancellation);
}
