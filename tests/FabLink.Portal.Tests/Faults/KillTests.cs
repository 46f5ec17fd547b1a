using System.Diagnostics;
using System.Security.Cryptography;
using System.Text;
using Dapper;
using FabLink.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.Faults;

/// <summary>
/// A measurement file is uploaded and submitted while the portal, then PostgreSQL, is killed at a moment that nobody chose.
/// Afterwards there is the whole report with everything that follows from it, or none of it.
/// </summary>
public sealed class KillTests
{
    private const int Seed = 20_261_124;
    private static readonly TimeSpan _budget = TimeSpan.FromSeconds(20);

    /// <summary>The left arm at tack: it does not conform, so every report of it opens or joins a nonconformance and tells two organisations.</summary>
    private static readonly string _file = File.ReadAllText(Repository.PathTo("sample-data", "measurements", "RH-120-001-tack.csv"));

    [Fact]
    public async Task Whole_or_nothing_whoever_is_killed_and_whenever()
    {
        await using var portal = await PortalProcess.StartAsync();
        var line = await LineAsync(portal);
        var random = new Random(Seed);
        var wren = await portal.SignInAsync("wren@dunlin.example");
        Assert.Null(await SubmitAsync(wren, line, 0));
        var usual = Stopwatch.StartNew();
        Assert.Null(await SubmitAsync(wren, line, 1));
        usual.Stop();
        var rounds = 2;
        var interrupted = 0;

        for (var watch = Stopwatch.StartNew(); rounds < 5 || watch.Elapsed < _budget && rounds < 40; rounds++)
        {
            var killPortal = rounds % 4 == 2;
            var sending = SubmitAsync(wren, line, rounds);
            await Task.Delay(TimeSpan.FromMilliseconds(random.NextDouble() * 1.1 * usual.ElapsedMilliseconds));
            if (killPortal)
                await portal.KillAsync();
            else
                portal.KillDatabase();
            var promised = await sending is null;
            interrupted += promised ? 0 : 1;
            if (killPortal)
                await portal.UpAsync();
            else
                await portal.ReadyAsync();

            await AssertWholeAsync(portal, rounds, promised);
            wren.Dispose();
            wren = await portal.SignInAsync("wren@dunlin.example");
            // The same file again shows the first result, or takes it now; never a second report.
            Assert.Null(await SubmitAsync(wren, line, rounds));
            await AssertWholeAsync(portal, rounds, promised: true);
        }

        wren.Dispose();
        TestContext.Current.SendDiagnosticMessage($"{rounds - 2} rounds (seed {Seed}), {interrupted} of them cut off before the answer.");
        Assert.True(interrupted > 0, "No round was interrupted: nothing was shown.");
    }

    /// <summary>
    /// Whoever is killed while it holds a lock of the job table leaves the lock behind. The portal comes up all the same, and the jobs go on
    /// well before the quarter of an hour that a person would call "the mails have stopped".
    /// </summary>
    [Fact]
    public async Task Locks_of_the_killed_keep_nobody_waiting()
    {
        await using var portal = await PortalProcess.StartAsync();
        await using (var owner = await portal.OwnerAsync())
        {
            await portal.KillAsync();
            await owner.ExecuteAsync("""
                insert into hangfire.lock (resource, updatecount, acquired)
                select x, 0, now() from unnest(array['hangfire:recurring-jobs:lock', 'hangfire:lock:recurring-job:deliver what the outbox owes']) x
                on conflict (resource) do update set acquired = excluded.acquired
                """);
        }

        await portal.UpAsync();

        await using var after = await portal.OwnerAsync();
        var from = await after.ExecuteScalarAsync<DateTime>("select now()");
        const string Ran = """
            select count(*) from hangfire.hash
            where key = 'recurring-job:deliver what the outbox owes' and field = 'LastExecution'
              and case when value ~ '^[0-9]+$' then to_timestamp(value::numeric / 1000) else value::timestamptz end > @from
            """;
        for (var patience = Stopwatch.StartNew(); await after.ExecuteScalarAsync<long>(Ran, new { from }) == 0; await Task.Delay(500))
            Assert.True(patience.Elapsed < TimeSpan.FromSeconds(90), "The jobs stand still.");
    }

    /// <summary>Another file each round: the same values, another comment at the end.</summary>
    private static byte[] Content(int round) => Encoding.UTF8.GetBytes(_file.TrimEnd() + new string('\n', round + 1));

    private static string ShaOf(int round) => Convert.ToHexStringLower(SHA256.HashData(Content(round)));

    /// <returns>Null when the person was shown the report; else what they were shown instead.</returns>
    private static async Task<string?> SubmitAsync(Person person, Guid line, int round)
    {
        try
        {
            await person.GetAsync($"/lines/{line}/measure?stage=tack");
            await person.SubmitAsync("form[enctype]", null, new Upload("File", $"round {round}.csv", Content(round), "text/csv"));
            await person.SubmitAsync("form[action^='/uploads/']");
            return person.Page.Response.IsSuccessStatusCode && person.Page.Address.AbsolutePath.StartsWith("/reports/", StringComparison.Ordinal)
                ? null
                : $"{(int)person.Page.Status} at {person.Page.Address}: {person.Page.Text}";
        }
        catch (Exception cut) when (cut is HttpRequestException or TaskCanceledException or InvalidOperationException or IOException)
        {
            return cut.Message;
        }
    }

    private static async Task<Guid> LineAsync(PortalProcess portal)
    {
        await using var owner = await portal.OwnerAsync();
        return await owner.ExecuteScalarAsync<Guid>(
            "select l.id from work_order_line l join revision r on r.id = l.revision_id join part t on t.id = r.part_id where t.number = 'RH-120'");
    }

    private static async Task AssertWholeAsync(PortalProcess portal, int round, bool promised)
    {
        await using var owner = await portal.OwnerAsync();
        Assert.InRange(await owner.ExecuteScalarAsync<long>("select count(*) from report where sha256 = @sha", new { sha = ShaOf(round) }), promised ? 1 : 0, 1);
        const string Half = """
            select r.id::text || case
                when r.value_count <> (select count(*) from measured_value v where v.report_id = r.id) then ' lacks values'
                when r.failed_count = 0 or r.verdict <> 'does not conform' then ' lacks its verdict'
                when (select count(*) from audit a where a.table_name = 'report' and a.row_key = r.id::text and a.action = 'insert') <> 1 then ' lacks its audit'
                when not exists (select 1 from nonconformance n where n.piece_id = r.piece_id and n.stage = r.stage and n.closed_at is null) then ' lacks its nonconformance'
                when (select count(distinct n.organisation_id) from notice n where n.path = '/reports/' || r.id) <> 2 then ' lacks notices'
                when exists (select 1 from notice n where n.path = '/reports/' || r.id and not exists (select 1 from outbox x where x.subject_id = n.id)) then ' lacks mails'
            end
            from report r where r.file_name like 'round %'
            """;
        Assert.DoesNotContain(await owner.QueryAsync<string?>(Half), half => half is not null);
        const string Stray = """
            select 'notice of no report' from notice n where n.path like '/reports/%' and not exists (select 1 from report r where n.path = '/reports/' || r.id)
            union all select 'mail of no notice' from outbox x where x.kind = 'mail a notice' and not exists (select 1 from notice n where n.id = x.subject_id)
            union all select 'audit of no report' from audit a where a.table_name = 'report' and not exists (select 1 from report r where r.id::text = a.row_key)
            """;
        Assert.Empty(await owner.QueryAsync<string>(Stray));
        foreach (var (sha, size) in await owner.QueryAsync<(string, long)>("select sha256, size from report where sha256 is not null union select sha256, size from upload"))
        {
            var kept = Path.Combine(portal.FilesFolder, sha[..2], sha);
            Assert.True(File.Exists(kept), $"{sha} is referenced and not there.");
            Assert.Equal(size, new FileInfo(kept).Length);
            await using var content = File.OpenRead(kept);
            Assert.Equal(sha, Convert.ToHexStringLower(await SHA256.HashDataAsync(content)));
        }
    }
}
