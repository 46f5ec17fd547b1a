using Dapper;
using Npgsql;

namespace FabLink.Portal.Features.Pairs;

/// <summary>Judges pairs again and writes down what was found, in the transaction of the job. Running twice writes nothing twice.</summary>
public static class PairChecks
{
    private const string OfReport = $"""
        with touched as (
            select l.build_id, p.part_id, p.place
            from report r join piece q on q.id = r.piece_id join work_order_line l on l.id = q.line_id
                 cross join lateral pieces_in_place(l.build_id) p
            where r.id = @report and p.piece_id = q.id)
        select {PairRow.Columns} from pair c
        where removed_at is null and exists (
            select 1 from touched t where t.build_id = c.build_id and (t.part_id, t.place) in ((c.left_part_id, c.left_place), (c.right_part_id, c.right_place)))
        order by id
        """;

    // One that was taken out of the build says so once, to whoever was shown it.
    private const string OfBuild = $"""
        select {PairRow.Columns} from pair c
        where build_id = @build and (removed_at is null
              or (select k.verdict from pair_check k where k.pair_id = c.id order by k.ordinal desc limit 1) <> 'taken out')
        order by id
        """;

    private const string Lock = "select pg_advisory_xact_lock(hashtextextended('pair ' || @id::text, 0))";

    private const string Last = """
        select ordinal, verdict, name, within, left_piece_id, left_value, right_piece_id, right_value from pair_check where pair_id = @id order by ordinal desc limit 1
        """;

    private const string Insert = """
        insert into pair_check (id, pair_id, owner_id, ordinal, checked_at, report_id, name, unit, within, left_piece_id, left_work_order_id, left_value,
                                right_piece_id, right_work_order_id, right_value, expanded_uncertainty, verdict)
        values (@Fresh, @Id, @OwnerId, @Ordinal, @now, @report::uuid, @Name, @Unit, @Within, @LeftPiece, @LeftOrder, @LeftValue,
                @RightPiece, @RightOrder, @RightValue, @Uncertainty::numeric, @Verdict)
        """;

    private const string TakeOut = """
        insert into pair_check (id, pair_id, owner_id, ordinal, checked_at, name, unit, within, left_piece_id, left_work_order_id, left_value,
                                right_piece_id, right_work_order_id, right_value, expanded_uncertainty, verdict)
        select @Fresh, pair_id, owner_id, ordinal + 1, @now, name, unit, within, left_piece_id, left_work_order_id, left_value,
               right_piece_id, right_work_order_id, right_value, expanded_uncertainty, 'taken out'
        from pair_check where pair_id = @Id order by ordinal desc limit 1
        """;

    private const string TellOne = "select tell('pair', @organisation, @roles, @order, @piece, @subject, @body, @path, @once, @now)";

    private sealed record LastRow(int Ordinal, string Verdict, string Name, decimal Within, Guid LeftPieceId, decimal LeftValue, Guid RightPieceId, decimal RightValue);

    /// <param name="report">A report that came; null when the build itself was changed.</param>
    /// <param name="build">The build that was changed.</param>
    /// <returns>How many pairs were looked at.</returns>
    public static async Task<int> RecheckAsync(
        NpgsqlConnection connection, NpgsqlTransaction transaction, Guid? report, Guid? build, DateTimeOffset now, CancellationToken cancellation)
    {
        var pairs = (await connection.QueryAsync<PairRow>(Command(report is null ? OfBuild : OfReport, new { report, build }))).AsList();
        foreach (var pair in pairs)
            await connection.ExecuteAsync(Command(Lock, new { id = pair.Id }));
        if (pairs.Count == 0)
            return 0;
        foreach (var standing in await new PairReading(connection, transaction, cancellation).OfAsync(pairs))
        {
            if (standing.Pair.Removed)
                await connection.ExecuteAsync(Command(TakeOut, new { Fresh = Guid.CreateVersion7(now), standing.Pair.Id, now }));
            else if (standing is { Verdict: not "not measured", Left: { PieceId: not null, Value: not null }, Right: { PieceId: not null, Value: not null } })
                await NoteAsync(standing);
        }

        return pairs.Count;

        async Task NoteAsync(PairStanding standing)
        {
            var (pair, left, right) = standing;
            var last = await connection.QuerySingleOrDefaultAsync<LastRow>(Command(Last, new { id = pair.Id }));
            if (last is not null && (last.Verdict, last.Name, last.Within, last.LeftPieceId, last.LeftValue, last.RightPieceId, last.RightValue)
                == (standing.Verdict, pair.Name, pair.Within, left.PieceId!.Value, left.Value!.Value, right.PieceId!.Value, right.Value!.Value))
                return;
            var ordinal = (last?.Ordinal ?? 0) + 1;
            await connection.ExecuteAsync(Command(Insert, new
            {
                Fresh = Guid.CreateVersion7(now),
                pair.Id,
                pair.OwnerId,
                Ordinal = ordinal,
                now,
                report,
                pair.Name,
                pair.Unit,
                pair.Within,
                LeftPiece = left.PieceId,
                LeftOrder = left.WorkOrderId,
                LeftValue = left.Value,
                RightPiece = right.PieceId,
                RightOrder = right.WorkOrderId,
                RightValue = right.Value,
                Uncertainty = standing.ExpandedUncertainty,
                standing.Verdict,
            }));
            if (standing.Verdict != "does not conform" || last?.Verdict == "does not conform")
                return;
            await TellAsync(standing, pair.OwnerId, ["engineer"], $"/builds/{pair.BuildId}/chains", ordinal);
            // A shop that makes one of the two only learns nothing of the other.
            if (left.ShopId == right.ShopId && left.ShopId is { } shop && shop != pair.OwnerId)
                await TellAsync(standing, shop, ["fabricator"], $"/pieces/{left.PieceId}", ordinal);
        }

        Task<int> TellAsync(PairStanding standing, Guid organisation, string[] roles, string path, int ordinal)
        {
            var (pair, left, right) = standing;
            return connection.ExecuteScalarAsync<int>(Command(TellOne, new
            {
                organisation,
                roles,
                order = left.WorkOrderId,
                piece = left.PieceId,
                subject = $"Pair {pair.Name} does not agree: {left.Serial} and {right.Serial} differ by {pair.Say(Math.Abs(standing.Difference!.Value))}",
                body = $"""
                    {left.What}: {pair.Say(left.Value!.Value)}. {right.What}: {pair.Say(right.Value!.Value)}. They must agree within {pair.Say(pair.Within)}.
                    Correct the one that is easier to move while it is only tacked; what its own drawing asks must still hold.
                    This is calculation, not approval.
                    """,
                path,
                once = $"pair {pair.Id} {ordinal}",
                now,
            }));
        }

        CommandDefinition Command(string sql, object args) => new(sql, args, transaction, cancellationToken: cancellation);
    }
}
