using System.Diagnostics;
using System.Text;
using Dapper;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using Npgsql;
using NpgsqlTypes;

namespace FabLink.Benchmarks;

/// <summary>
/// Parse, match, judge and store a file of 10,000 values through the portal's own handlers, against a bare binary COPY of the same rows
/// into the same table, with its constraints and indexes, as its owner. The two alternate in one run; the median of the ratios of neighbours is told, so that
/// a machine that slows down for a while slows both. The first rounds only warm up: they are slow by compiling.
/// </summary>
internal static class StoreBenchmark
{
    private const int Characteristics = 500;
    private const int PiecesPerFile = 20;
    private const int WarmUp = 5;
    private const int Rounds = WarmUp + 20;

    public static async Task RunAsync()
    {
        await using var ground = await PortalGround.StartAsync();
        var line = (await ground.OrderAsync("BM-1", Characteristics, 1, PiecesPerFile * Rounds, [new PlannedStep("fit and tack", null, "tack", "hold", "report")]))[0];
        await using var work = await ground.Of<Database>().BeginAsync(ground.People.HolmLane, default);
        var pieces = await Measuring.PiecesOfLineAsync(work, line);
        var asked = await Measuring.CharacteristicsAsync(work, [pieces[0].RevisionId], "tack");
        var (portal, copy) = (new List<double>(), new List<double>());
        for (var round = 0; round < Rounds; round++)
        {
            var some = pieces.Skip(round * PiecesPerFile).Take(PiecesPerFile).ToList();
            portal.Add(await PortalRoundAsync(ground, line, FileOf(some, asked)));
            await RestAsync(ground);
            copy.Add(await CopyRoundAsync(ground, some, asked));
        }
        var ratios = portal.Zip(copy).Skip(WarmUp).Select(pair => pair.First / pair.Second).Order().ToList();
        Console.WriteLine($"store 10,000 values: portal {Median(portal[WarmUp..]):0} ms (parse, match, judge, store), COPY {Median(copy[WarmUp..]):0} ms, ratio {Median(ratios):0.00} ({ratios[ratios.Count / 4]:0.00} to {ratios[ratios.Count * 3 / 4]:0.00} for the middle half of {ratios.Count} rounds)");
    }

    /// <summary>The jobs that a report asks for are done after its commit; here neither side is to run beside them.</summary>
    private static async Task RestAsync(PortalGround ground)
    {
        await using var owner = new NpgsqlConnection(ground.Portal.Database.OwnerConnectionString);
        while (await owner.ExecuteScalarAsync<bool>("select exists (select 1 from outbox where done_at is null)"))
            await Task.Delay(50);
    }

    private static byte[] FileOf(List<Measuring.PieceRow> pieces, IReadOnlyList<Characteristic> asked)
    {
        var text = new StringBuilder("serial,balloon,value,unit,uncertainty\n");
        foreach (var piece in pieces)
        {
            foreach (var row in asked)
                text.Append(piece.Serial).Append(',').Append(row.Balloon).Append(',').Append(row.Nominal + 0.125m).Append(",mm,0.03\n");
        }
        return Encoding.UTF8.GetBytes(text.ToString());
    }

    private static async Task<double> PortalRoundAsync(PortalGround ground, Guid line, byte[] file)
    {
        var shop = ground.People.HolmLane;
        var kept = PortalGround.Wanted<UploadFile.Outcome.Kept>(await ground.Of<UploadFile.Handler>().HandleAsync(
            shop, new UploadFile.Request(line, "tack", "values.csv", false), new MemoryStream(file), default));
        var watch = Stopwatch.StartNew();
        var preview = await ground.Of<PreviewFile.Handler>().HandleAsync(shop, kept.UploadId, default);
        var taken = PortalGround.Wanted<SubmitReport.Outcome.Accepted>(await ground.Of<SubmitReport.Handler>().HandleAsync(shop, preview!.ToRequest(""), default));
        var took = watch.Elapsed.TotalMilliseconds;
        if (taken.Reports.Count != PiecesPerFile || taken.Reports.Any(report => report.Verdict != "conforms"))
            throw new InvalidOperationException($"{taken.Reports.Count} reports: {string.Join(", ", taken.Reports.Select(report => report.Verdict).Distinct())}");
        return took;
    }

    /// <summary>The reports themselves are there already; what is timed is one COPY and its commit.</summary>
    private static async Task<double> CopyRoundAsync(PortalGround ground, List<Measuring.PieceRow> pieces, IReadOnlyList<Characteristic> asked)
    {
        const string Report = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by,
                                verdict, value_count, failed_count, unproven_count)
            values (@id, @OwnerId, @WorkOrderId, @PieceId, @RevisionId, @Organisation, 'receiving', 'typed', @key, now(), @person, 'conforms', 500, 0, 0)
            """;
        await using var source = NpgsqlDataSource.Create(ground.Portal.Database.OwnerConnectionString);
        await using var connection = await source.OpenConnectionAsync();
        var reports = pieces.ToDictionary(piece => piece.Id, _ => Guid.CreateVersion7());
        foreach (var piece in pieces)
        {
            await connection.ExecuteAsync(Report, new
            {
                id = reports[piece.Id],
                piece.OwnerId,
                piece.WorkOrderId,
                PieceId = piece.Id,
                piece.RevisionId,
                Organisation = ground.People.HolmLane.OrganisationId,
                key = Guid.NewGuid(),
                person = ground.People.HolmLane.PersonId,
            });
        }
        var watch = Stopwatch.StartNew();
        await using (var copy = await connection.BeginBinaryImportAsync(
            "copy measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, expanded_uncertainty, instrument, note, verdict, off_by) from stdin (format binary)"))
        {
            foreach (var piece in pieces)
            {
                foreach (var row in asked)
                {
                    var value = row.Nominal!.Value + 0.125m;
                    await copy.StartRowAsync();
                    await copy.WriteAsync(reports[piece.Id], NpgsqlDbType.Uuid);
                    await copy.WriteAsync(piece.WorkOrderId, NpgsqlDbType.Uuid);
                    await copy.WriteAsync(row.Id, NpgsqlDbType.Uuid);
                    await copy.WriteAsync((short)1, NpgsqlDbType.Smallint);
                    await copy.WriteAsync(value, NpgsqlDbType.Numeric);
                    await copy.WriteAsync("mm", NpgsqlDbType.Text);
                    await copy.WriteAsync("11.125", NpgsqlDbType.Text);
                    await copy.WriteAsync(0.03m, NpgsqlDbType.Numeric);
                    await copy.WriteAsync("", NpgsqlDbType.Text);
                    await copy.WriteAsync("", NpgsqlDbType.Text);
                    await copy.WriteAsync("conforms", NpgsqlDbType.Text);
                    await copy.WriteNullAsync();
                }
            }
            await copy.CompleteAsync();
        }
        return watch.Elapsed.TotalMilliseconds;
    }

    private static double Median(List<double> values)
    {
        values.Sort();
        return values[values.Count / 2];
    }
}
