using System.Diagnostics;
using System.Text;
using Dapper;
using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Surveys;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using Npgsql;

namespace FabLink.Benchmarks;

/// <summary>
/// A build with 200 joints of ten holes, 2,000 holes measured: what one more report costs to re-check, against looking at the whole build again.
/// </summary>
internal static class RecheckBenchmark
{
    private const int Joints = 200;
    private const int Holes = 10;

    public static async Task RunAsync()
    {
        await using var ground = await PortalGround.StartAsync();
        var (engineer, holmLane) = (ground.People.Engineer, ground.People.HolmLane);
        var part = PortalGround.Wanted<CreatePart.Outcome.Created>(await ground.Of<CreatePart.Handler>().HandleAsync(
            engineer, new CreatePart.Request("BM-3", "ten holes", GeneralTolerance: "ISO 2768-m"), default));
        List<CharacteristicEntry> rows = [];
        for (var hole = 1; hole <= Holes; hole++)
        {
            rows.Add(Row(hole, $"{100 * hole} ±0.8", $"face/{hole} x, on {(hole % 2 == 0 ? "even" : "odd")} pad"));
            rows.Add(Row(hole + 20, $"{(hole % 2) * 300} ±0.8", $"face/{hole} y"));
        }

        rows.Add(Row(41, $"{Holes}× Ø13.5 +0.3/0", $"face/1-{Holes} diameter, M12"));
        var saved = PortalGround.Wanted<EditCharacteristics.Outcome.Saved>(await ground.Of<EditCharacteristics.Handler>().HandleAsync(
            engineer, new EditCharacteristics.Request(part.RevisionId, 1, rows), default));
        PortalGround.Wanted<ReleaseRevision.Outcome.Released>(await ground.Of<ReleaseRevision.Handler>().HandleAsync(
            engineer, new ReleaseRevision.Request(part.RevisionId, saved.RowVersion), default));
        var build = PortalGround.Wanted<CreateBuild.Outcome.Created>(await ground.Of<CreateBuild.Handler>().HandleAsync(
            engineer, new CreateBuild.Request("B-3", "benchmark"), default)).Id;
        await ground.IssueAsync(part.RevisionId, build, 1, Joints, [.. PlannedStep.UsualRoute(engineer.OrganisationId, ground.People.Teal.OrganisationId)]);

        var points = "hole,x,y,diameter,uncertainty\n" + string.Concat(Enumerable.Range(1, Holes).Select(hole => FormattableString.Invariant($"{hole},{100 * hole},{(hole % 2) * 300},13.5,0.05\n")));
        var survey = PortalGround.Wanted<KeepSurvey.Outcome.Kept>(await ground.Of<KeepSurvey.Handler>().HandleAsync(
            engineer, new KeepSurvey.Request(build, "carrier", "", ""), new MemoryStream(Encoding.UTF8.GetBytes(points)), "carrier.csv", default)).Id;
        for (var place = 1; place <= Joints; place++)
        {
            PortalGround.Wanted<KeepJoint.Outcome.Kept>(await ground.Of<KeepJoint.Handler>().HandleAsync(
                engineer, new KeepJoint.Request(build, null, 0, $"joint {place}", $"{part.PartId}/face", place, $"survey/{survey}", null, 0, 0, 0.1m, null), default));
        }

        await using var owner = new NpgsqlConnection(ground.Portal.Database.OwnerConnectionString);
        await owner.OpenAsync();
        var pieces = (await owner.QueryAsync<Guid>("select id from piece where part_id = @PartId order by serial", new { part.PartId })).AsList();
        var characteristics = (await owner.QueryAsync<(Guid Id, int Balloon)>("select id, balloon from characteristic where revision_id = @RevisionId", new { part.RevisionId })).ToDictionary(row => row.Balloon, row => row.Id);
        foreach (var piece in pieces)
            await SubmitAsync(piece, 0);
        await LookedAsync();

        var (bolts, fails) = (new List<Look>(), new List<Look>());
        foreach (var piece in pieces.Skip(50).Take(10))
        {
            bolts.Add(await OneAsync(piece, 0.1m));
            fails.Add(await OneAsync(piece, 3.2m));
        }

        await using (var work = await ground.Of<Database>().BeginAsync(engineer, default))
        {
            await work.ExecuteAsync("select ask_recheck('re-check a build', @build, now())", new { build });
            await work.CommitAsync();
        }

        var watch = Stopwatch.StartNew();
        await LookedAsync();
        Console.WriteLine(
            $"re-check of what one report touches, {Joints} joints of {Holes} holes: {bolts.Max(look => look.Joints)} joint looked at; computing {bolts.Average(look => look.Computed):0.0} ms when it bolts up, "
            + $"{fails.Average(look => look.Computed):0.0} ms with advice when it does not; whole job {bolts.Average(look => look.Job):0} and {fails.Average(look => look.Job):0} ms; the whole build again {watch.ElapsedMilliseconds} ms");

        async Task<Look> OneAsync(Guid piece, decimal off)
        {
            var from = DateTimeOffset.UtcNow;
            await SubmitAsync(piece, off);
            var taken = Stopwatch.StartNew();
            await LookedAsync();
            var found = (await owner.QueryAsync<decimal>("select milliseconds from joint_check where checked_at >= @from", new { from = from.UtcDateTime })).AsList();
            return new Look(found.Count, (double)found.Sum(), taken.Elapsed.TotalMilliseconds);
        }

        async Task SubmitAsync(Guid piece, decimal off)
        {
            List<SubmitReport.Value> values = [];
            for (var hole = 1; hole <= Holes; hole++)
            {
                values.Add(Value(hole, (100 * hole) + (hole == 3 ? off : 0)));
                values.Add(Value(hole + 20, (hole % 2) * 300));
                values.Add(Value(41, 13.6m, hole));
            }

            PortalGround.Wanted<SubmitReport.Outcome.Accepted>(await ground.Of<SubmitReport.Handler>().HandleAsync(
                holmLane, new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, values)], null, Guid.CreateVersion7()), default));
        }

        SubmitReport.Value Value(int balloon, decimal number, int instance = 1) => new(characteristics[balloon], instance, number, "mm", $"{number}", 0.05m, "", "");

        // The portal's own job may have taken it first; then it is waited for.
        async Task LookedAsync()
        {
            while (await owner.ExecuteScalarAsync<long>("select count(*) from outbox where done_at is null and kind like 're-check%'") > 0)
                await ground.Of<RecheckBuild>().RunDueAsync(default);
        }
    }

    private sealed record Look(int Joints, double Computed, double Job);

    private static CharacteristicEntry Row(int balloon, string requirement, string locates) =>
        new() { Balloon = $"{balloon}", Requirement = requirement, Class = "major", Stages = "tack", Rule = "simple", Locates = locates };
}
