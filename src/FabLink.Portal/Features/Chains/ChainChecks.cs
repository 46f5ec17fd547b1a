using System.Text.Json;
using Dapper;
using Npgsql;

namespace FabLink.Portal.Features.Chains;

/// <summary>Looks again at chains and writes down how they stand, in the transaction of the job. Running twice writes nothing twice.</summary>
public static class ChainChecks
{
    private const string OfReport = $"""
        with touched as (
            select l.build_id, p.part_id, p.place
            from report r join piece q on q.id = r.piece_id join work_order_line l on l.id = q.line_id
                 cross join lateral pieces_in_place(l.build_id) p
            where r.id = @report and p.piece_id = q.id)
        select {ChainRow.Columns} from chain c
        where removed_at is null and exists (
            select 1 from touched t join chain_link k on k.part_id = t.part_id and k.place = t.place where k.chain_id = c.id and t.build_id = c.build_id)
        order by id
        """;

    private const string OfBuild = $"select {ChainRow.Columns} from chain where build_id = @build and removed_at is null order by id";

    // Whoever looks second sees what the first one's report and his own brought.
    private const string Lock = "select pg_advisory_xact_lock(hashtextextended('chain ' || @id::text, 0))";

    private const string Last = "select ordinal, verdict, answer::text as answer from chain_check where chain_id = @id order by ordinal desc limit 1";

    private const string Insert = """
        insert into chain_check (id, chain_id, owner_id, ordinal, checked_at, report_id, form, verdict, yield, answer)
        values (@Fresh, @Id, @OwnerId, @Ordinal, @now, @report::uuid, @Form, @Verdict, @Yield::numeric, @Answer::jsonb)
        """;

    private const string TellOne = """
        select tell('chain', @OwnerId, array['engineer'], p.work_order_id, p.id, @subject, @body, @path, @once, @now) from piece p where p.id = @piece
        """;

    private sealed record LastRow(int Ordinal, string Verdict, string Answer);

    /// <summary>What is kept of a look: enough to see later what was known then.</summary>
    private sealed record Kept(
        string Form, double? Expected, double? WorstLower, double? WorstUpper, double? LikelyLower, double? LikelyUpper, double? Yield, double? YieldLower, double? YieldUpper,
        int Measured, int Links, string? Problem);

    /// <param name="report">A report that came; null when the build itself was changed.</param>
    /// <param name="build">The build that was changed.</param>
    /// <returns>How many chains were looked at.</returns>
    public static async Task<int> RecheckAsync(
        NpgsqlConnection connection, NpgsqlTransaction transaction, Guid? report, Guid? build, DateTimeOffset now, CancellationToken cancellation)
    {
        var chains = (await connection.QueryAsync<ChainRow>(Command(report is null ? OfBuild : OfReport, new { report, build }))).AsList();
        foreach (var chain in chains)
            await connection.ExecuteAsync(Command(Lock, new { id = chain.Id }));
        if (chains.Count == 0)
            return 0;
        var links = await new ChainReading(connection, transaction, cancellation).OfAsync([.. chains.Select(chain => chain.Id)]);
        foreach (var chain in chains)
            await NoteAsync(ChainStanding.Of(chain, [.. links[chain.Id]], cancellation));
        return chains.Count;

        async Task NoteAsync(ChainStanding standing)
        {
            var chain = standing.Chain;
            var last = await connection.QuerySingleOrDefaultAsync<LastRow>(Command(Last, new { id = chain.Id }));
            var kept = KeptOf(standing);
            if (last is not null && last.Verdict == standing.Verdict && JsonSerializer.Deserialize<Kept>(last.Answer) == kept)
                return;
            var ordinal = (last?.Ordinal ?? 0) + 1;
            await connection.ExecuteAsync(Command(Insert, new
            {
                Fresh = Guid.CreateVersion7(now),
                chain.Id,
                chain.OwnerId,
                Ordinal = ordinal,
                now,
                report,
                standing.Form,
                standing.Verdict,
                standing.Yield,
                Answer = JsonSerializer.Serialize(kept),
            }));
            // Who writes a chain sees how it is drawn; a notice is about what was made.
            var piece = standing.Links.FirstOrDefault(link => link is { Made: true, Measured: true })?.PieceId;
            if (piece is null || standing.Verdict != "yield too low" || last?.Verdict == "yield too low")
                return;
            await connection.ExecuteScalarAsync<int?>(Command(TellOne, new
            {
                chain.OwnerId,
                subject = $"Chain {chain.Name}: {standing.Yield:0.0 %} of the forecasts close, {chain.RequiredYield:0.0 %} are required",
                body = ChainWords.Notice(standing),
                path = $"/chains/{chain.Id}",
                once = $"chain {chain.Id} {ordinal}",
                piece,
                now,
            }));
        }

        CommandDefinition Command(string sql, object args) => new(sql, args, transaction, cancellationToken: cancellation);
    }

    private static Kept KeptOf(ChainStanding standing)
    {
        var (now, simulated) = (standing.Now, standing.Now?.MonteCarlo);
        return new Kept(
            standing.Form, now?.Expected, now?.WorstCase.Lower, now?.WorstCase.Upper, now?.RootSumSquare.Lower, now?.RootSumSquare.Upper,
            simulated?.Yield, simulated?.YieldInterval?[0], simulated?.YieldInterval?[1], standing.MeasuredLinks, standing.Links.Count, standing.Problem);
    }
}
