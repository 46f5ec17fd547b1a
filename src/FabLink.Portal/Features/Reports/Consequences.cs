using FabLink.Engineering.Judging;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Reports;

/// <summary>What follows from a report, in its own transaction: gates, nonconformances, notices.</summary>
public static class Consequences
{
    public sealed record Of(Measuring.PieceRow Piece, Guid Report, ReportJudgement Judgement)
    {
        /// <summary>Values that a concession covers as they stand; what was missing when it was granted is covered too. Null without one.</summary>
        public IReadOnlySet<(string Balloon, int Instance)>? Conceded { get; init; }

        /// <summary>What this report brings itself; the rest stands from earlier ones.</summary>
        public required IReadOnlySet<(string Balloon, int Instance)> Brought { get; init; }

        /// <summary>Nothing but what is conceded keeps it from conforming.</summary>
        public bool IsSettled => Judgement.Passes
            || Conceded is not null && Judgement.Values.All(value => value.Judgement.Verdict == Verdict.Conforms || IsConceded(value));

        /// <summary>What fails and nobody has conceded.</summary>
        public IEnumerable<JudgedValue> Failing => Judgement.Values.Where(value => value.Judgement.Verdict == Verdict.DoesNotConform && !IsConceded(value));

        /// <inheritdoc cref="Failing"/>
        public IEnumerable<JudgedValue> Unproven => Judgement.Values.Where(value => value.Judgement.Verdict == Verdict.NotProven && !IsConceded(value));

        private bool IsConceded(JudgedValue value) => Conceded?.Contains((value.Characteristic.Balloon, value.Instance)) == true;
    }

    private static readonly string[] _buildShop = ["engineer", "buyer"];
    private static readonly string[] _shop = ["fabricator", "coater"];

    /// <summary>
    /// A conforming report opens the gates that wait for one at its stage, if what others measured there conforms as well and the piece has got there:
    /// values from before the step say nothing of what it made.
    /// </summary>
    private const string OpenGates = """
        update piece_step s set opened_at = @now, opened_by = @person, opened_how = 'report', report_id = told.report, row_version = s.row_version + 1
        from unnest(@pieces, @reports) told (piece, report), route_step r
        where r.id = s.route_step_id and s.piece_id = told.piece and s.piece_id = any(@pieces) and r.stage = @stage and r.gate = 'hold' and r.opens_by = 'report' and s.opened_at is null
          and step_is_reached(s.id) and settled_verdict(s.piece_id, r.stage) = 'conforms'
        """;

    /// <summary>A report that does not conform shuts again what an earlier one or a concession opened, as long as nobody has gone on.</summary>
    private const string ShutGates = """
        update piece_step s set opened_at = null, opened_by = null, opened_how = null, opened_reason = null, report_id = null, row_version = s.row_version + 1
        from route_step r
        where r.id = s.route_step_id and s.piece_id = any(@pieces) and r.stage = @stage and s.opened_how in ('report', 'concession')
          and not exists (select 1 from piece_step later where later.piece_id = s.piece_id and later.ordinal > s.ordinal and later.started_at is not null)
        """;

    /// <param name="all">All of one stage.</param>
    public static async Task ApplyAsync(Work work, IReadOnlyList<Of> all, string stage, DateTimeOffset now)
    {
        foreach (var group in all.GroupBy(of => of.IsSettled))
        {
            await work.ExecuteAsync(group.Key ? OpenGates : ShutGates, new
            {
                now,
                stage,
                person = work.Actor.PersonId,
                pieces = group.Select(of => of.Piece.Id).ToArray(),
                reports = group.Select(of => of.Report).ToArray(),
            });
        }

        var failing = all.ToLookup(of => of.Failing.Any());
        if (failing[false].Any())
        {
            foreach (var closed in await NonconformanceBook.CloseAsync(work, stage, [.. failing[false].Select(of => (of.Piece.Id, of.Report))], now))
                await TellHealedAsync(work, all.First(of => of.Piece.Id == closed.PieceId), closed, stage, now);
        }

        foreach (var of in failing[true])
        {
            var (number, before) = await NonconformanceBook.OpenAsync(work, of.Piece, stage, of.Report, now);
            // What failed already and was not measured again is no news.
            var failed = of.Failing.Where(value => !before || of.Brought.Contains((value.Characteristic.Balloon, value.Instance))).ToList();
            if (failed.Count > 0)
                await TellAsync(work, of, failed, stage, number, before, now);
            await SampleAsync(work, of, now);
        }

        foreach (var of in failing[false].Where(of => of.Unproven.Any()))
            await TellUnprovenAsync(work, of, stage, now);
        await NextTurn.TellAsync(work, all.Select(of => of.Piece.Id), now);
    }

    /// <summary>The same file again, after its step has begun: the report that is there opens what it could not open then.</summary>
    public static async Task<int> OpenAgainAsync(Work work, IReadOnlyList<SubmitReport.Taken> before, string stage, DateTimeOffset now)
    {
        var conforming = before.Where(report => report.Verdict == "conforms").ToList();
        var pieces = conforming.Select(report => report.PieceId).ToArray();
        var opened = await work.ExecuteAsync(OpenGates, new { now, stage, person = work.Actor.PersonId, pieces, reports = conforming.Select(report => report.ReportId).ToArray() });
        if (opened > 0)
            await NextTurn.TellAsync(work, pieces, now);
        return opened;
    }

    /// <summary>A sample that accepts no longer makes every piece of the line be measured; both shops are told.</summary>
    private static async Task SampleAsync(Work work, Of of, DateTimeOffset now)
    {
        var piece = of.Piece;
        foreach (var failed in await work.RowsAsync<string>("select judge_sample(@report, @now)", new { report = of.Report, now }))
        {
            var subject = $"{piece.PartNumber}: the sample of its {failed} characteristics failed at piece {piece.Serial}";
            var body = $"""
                {piece.PartNumber} {piece.PartName}, revision {piece.RevisionLetter}: the sample accepts no longer.
                From now on the {failed} characteristics are required on every piece of this line; gates of pieces that were not measured for them are shut again.
                """;
            var path = $"/reports/{of.Report}";
            await Tell.OrganisationAsync(work, now, "sample failed", piece.OwnerId, _buildShop, piece.WorkOrderId, piece.Id, subject, body, path);
            if ((piece.ShopId ?? work.Actor.OrganisationId) is var shop && shop != piece.OwnerId)
                await Tell.OrganisationAsync(work, now, "sample failed", shop, _shop, piece.WorkOrderId, piece.Id, subject, body, path);
        }
    }

    private static async Task TellAsync(Work work, Of of, List<JudgedValue> failed, string stage, string number, bool before, DateTimeOffset now)
    {
        var piece = of.Piece;
        var balloons = string.Join(", ", failed.Take(6).Select(value => value.Name)) + (failed.Count > 6 ? " and more" : "");
        var subject = $"{piece.Serial} {(before ? "still does not conform" : "does not conform")} at stage {stage}: balloon {balloons}";
        var body = $"""
            {piece.PartNumber} {piece.PartName}, revision {piece.RevisionLetter}, piece {piece.Serial}, measured at stage {stage}:
            {string.Join("\n", failed.Take(12).Select(value => $"balloon {value.Name}: {value.Characteristic.Requirement} {Shown(value)}"))}
            Nonconformance {number} is {(before ? "still open" : "open")}: nothing on this piece may start until it is measured again and conforms, or the build shop decides otherwise.
            """;
        var path = $"/reports/{of.Report}";
        await Tell.OrganisationAsync(work, now, "report failed", piece.OwnerId, _buildShop, piece.WorkOrderId, piece.Id, subject, body, path);
        // The shop of the order, and whoever has a step at the stage: it is theirs to make good, whoever found it.
        var having = await work.RowsAsync<Guid>(
            "select distinct s.organisation_id from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = @Id and r.stage = @stage", new { piece.Id, stage });
        foreach (var shop in having.Append(piece.ShopId ?? work.Actor.OrganisationId).Distinct().Where(shop => shop != piece.OwnerId))
            await Tell.OrganisationAsync(work, now, "report failed", shop, _shop, piece.WorkOrderId, piece.Id, subject, body, path);
    }

    /// <summary>Nothing failed and nothing is shown: only an engineer can concede that, so an engineer is told.</summary>
    private static Task<int> TellUnprovenAsync(Work work, Of of, string stage, DateTimeOffset now)
    {
        var balloons = of.Unproven.Select(value => value.Name).ToList();
        return Tell.OrganisationAsync(
            work,
            now,
            "report not proven",
            of.Piece.OwnerId,
            ["engineer"],
            of.Piece.WorkOrderId,
            of.Piece.Id,
            $"{of.Piece.Serial} is not proven at stage {stage}: balloon {string.Join(", ", balloons.Take(6))}{(balloons.Count > 6 ? " and more" : "")}",
            $"""
            {of.Piece.PartNumber} {of.Piece.PartName}, revision {of.Piece.RevisionLetter}, piece {of.Piece.Serial}, measured at stage {stage}:
            {string.Join("\n", of.Unproven.Take(12).Select(value => $"balloon {value.Name}: {value.Characteristic.Requirement}"))}
            These lie nearer to a limit than their uncertainty can tell, or came without one. A closer measurement decides it, or you concede it.
            """,
            $"/reports/{of.Report}");
    }

    /// <summary>Whoever was told that it failed, and may be deciding on it, is told that there is nothing left to decide.</summary>
    private static async Task<int> TellHealedAsync(Work work, Of of, NonconformanceBook.Closed closed, string stage, DateTimeOffset now)
    {
        var route = (await PieceRoutes.OfPieceAsync(work, of.Piece.Id))?.Route;
        var released = route is { Stop: PieceStop.NamedRelease, Current: { } step } ? $"An engineer releases the hold after {step.Kind} now." : null;
        return await Tell.OrganisationAsync(
            work,
            now,
            "nonconformance closed",
            of.Piece.OwnerId,
            _buildShop,
            of.Piece.WorkOrderId,
            of.Piece.Id,
            $"{of.Piece.Serial}: what failed is made good, {closed.Number} is closed",
            $"{of.Piece.PartNumber} {of.Piece.PartName}, revision {of.Piece.RevisionLetter}, piece {of.Piece.Serial} was measured again at stage {stage}, and what failed conforms. "
                + (of.IsSettled ? released ?? "Nothing is left to decide." : "Something else of the stage is not shown to conform yet; its report says what."),
            $"/nonconformances/{closed.Id}");
    }

    private static string Shown(JudgedValue value) =>
        value.Judgement.OffBy is { } off ? $"is off by {value.Characteristic.Requirement.Show(off)}" : value.Characteristic.Requirement is NoteOnly ? "is not done" : "is no go";
}
