using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Makes pieces of a line with their serials and one step for each step of the route: at issue, and once more for a piece that is made anew.</summary>
internal static class MakePieces
{
    private const string InsertPieces = """
        insert into piece (id, owner_id, work_order_id, line_id, part_id, revision_id, serial, created_at, instead_of)
        select made.id, @ownerId, @orderId, l.id, r.part_id, l.revision_id, t.number || '-' || written(next_number(@ownerId, 'piece ' || r.part_id), 3), @now, @insteadOf::uuid
        from work_order_line l join revision r on r.id = l.revision_id join part t on t.id = r.part_id, unnest(@pieces) with ordinality made (id, n)
        where l.id = @lineId order by made.n
        """;

    private const string InsertSteps = """
        insert into piece_step (id, owner_id, work_order_id, line_id, piece_id, route_step_id, ordinal, organisation_id)
        select made.id, @ownerId, @orderId, @lineId, made.piece_id, t.id, t.ordinal, t.organisation_id
        from unnest(@steps, @stepPieces, @routeSteps) made (id, piece_id, route_step_id) join route_step t on t.id = made.route_step_id
        """;

    private const string Route = "select id from route_step where line_id = @lineId";

    /// <param name="insteadOf">The piece whose place the one takes.</param>
    /// <returns>Their ids, in the order of their serials.</returns>
    public static async Task<Guid[]> OnLineAsync(Work work, Guid ownerId, Guid orderId, Guid lineId, int count, DateTimeOffset now, Guid? insteadOf = null)
    {
        var pieces = Fresh(count, now);
        await work.ExecuteAsync(InsertPieces, new { ownerId, orderId, lineId, pieces, now, insteadOf });
        var route = await work.RowsAsync<Guid>(Route, new { lineId });
        var pairs = pieces.SelectMany(piece => route.Select(step => (Piece: piece, Step: step))).ToList();
        await work.ExecuteAsync(InsertSteps, new
        {
            ownerId,
            orderId,
            lineId,
            steps = Fresh(pairs.Count, now),
            stepPieces = pairs.Select(pair => pair.Piece).ToArray(),
            routeSteps = pairs.Select(pair => pair.Step).ToArray(),
        });
        return pieces;
    }

    private static Guid[] Fresh(int count, DateTimeOffset now) => [.. Enumerable.Range(0, count).Select(_ => Guid.CreateVersion7(now))];
}
