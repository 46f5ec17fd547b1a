using Dapper;
using FabLink.Portal.Platform.Database;
using Npgsql;

namespace FabLink.Portal.Features.Pieces;

/// <summary>
/// Tells whoever has the next step of pieces that it may start, in the transaction of whatever opened it. The database notes each step that was told of,
/// so the same turn is told once.
/// </summary>
internal static class NextTurn
{
    private const string Come = "select * from turns_come(@pieces, @now) order by serial";

    private const string Tell = """
        select tell('your turn', @Organisation, @Roles, @WorkOrder, @Piece::uuid, @Subject, @Body, @Path, null, @now)
        """;

    private sealed record Row(Guid PieceId, string Serial, Guid OwnerId, Guid WorkOrderId, string Kind, Guid OrganisationId, string? Whereabouts);

    /// <param name="because">What was done to the pieces with these serials; without it only that nothing holds them, for the reason may be none of the reader's.</param>
    public static async Task TellAsync(Work work, IEnumerable<Guid> pieces, DateTimeOffset now, Func<string, string>? because = null)
    {
        foreach (var notice in NoticesOf(await work.RowsAsync<Row>(Come, new { pieces = pieces.ToArray(), now }), now, because))
            await work.ExecuteAsync(Tell, notice);
    }

    /// <summary>The same for a job, which has no actor.</summary>
    public static async Task TellAsync(NpgsqlConnection connection, NpgsqlTransaction transaction, IEnumerable<Guid> pieces, DateTimeOffset now, CancellationToken cancellation)
    {
        var rows = await connection.QueryAsync<Row>(new CommandDefinition(Come, new { pieces = pieces.ToArray(), now }, transaction, cancellationToken: cancellation));
        foreach (var notice in NoticesOf(rows, now, null))
            await connection.ExecuteAsync(new CommandDefinition(Tell, notice, transaction, cancellationToken: cancellation));
    }

    /// <summary>One for all the pieces of an order whose same step comes at the same moment and place.</summary>
    private static IEnumerable<object> NoticesOf(IEnumerable<Row> rows, DateTimeOffset now, Func<string, string>? because) =>
        from row in rows
        group row by (row.WorkOrderId, row.OwnerId, row.OrganisationId, row.Kind, row.Whereabouts) into turn
        let those = turn.ToList()
        let serials = Serials.Words([.. those.Select(row => row.Serial)])
        let one = those.Count == 1 ? those[0].PieceId : (Guid?)null
        let owner = turn.Key.OrganisationId == turn.Key.OwnerId
        select new
        {
            Organisation = turn.Key.OrganisationId,
            Roles = owner ? new[] { "engineer", "buyer" } : ["fabricator", "coater"],
            WorkOrder = turn.Key.WorkOrderId,
            Piece = one,
            Subject = $"{serials}: ready for {turn.Key.Kind}",
            Body = $"{because?.Invoke(serials) ?? $"Nothing holds {serials} any more."} Next is {turn.Key.Kind}, and that is yours.{(turn.Key.Whereabouts is { } at ? $" {(one is null ? "They are" : "It is")} at {at}." : "")}",
            Path = one is { } piece ? $"/pieces/{piece}" : owner ? $"/orders/{turn.Key.WorkOrderId}" : "/steps",
            now,
        };
}
