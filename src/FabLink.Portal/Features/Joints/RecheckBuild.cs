using System.Diagnostics;
using System.Text.Json;
using Dapper;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Shifts;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Jobs;
using Hangfire;
using Npgsql;

namespace FabLink.Portal.Features.Joints;

/// <summary>
/// Looks again at what a report touches: the joints, chains and pairs of its piece, and only those. The truth about what is owed is the outbox row;
/// running twice writes nothing twice. Two reports at the same instant wait for each other at the joint, so the last look sees both.
/// </summary>
public sealed class RecheckBuild(DataSources sources, TimeProvider clock, ILogger<RecheckBuild> log)
{
    private const long Turn = 0x0FAB_0B0D;

    private const string Due = """
        select id from outbox where done_at is null and next_try_at <= @now and kind like 're-check %' order by created_at, id limit 100
        """;

    private const string Take = """
        select id, kind, subject_id, tries from outbox where id = @id and done_at is null and next_try_at <= @now for update skip locked
        """;

    private const string Done = "update outbox set done_at = @now, tries = tries + 1, last_error = null where id = @id";
    // Two seconds after the first failure, then twice as long each time: a deadlock is over by then, and a person waits for the answer.
    private const string Failed = """
        update outbox set tries = tries + 1, last_error = @error, next_try_at = @now + least(30, 2 ^ (tries + 1)) * interval '1 second' where id = @id and done_at is null
        """;

    private const string OfReport = $"""
        with touched as (
            select l.build_id, p.part_id, p.place
            from report r join piece q on q.id = r.piece_id join work_order_line l on l.id = q.line_id
                 cross join lateral pieces_in_place(l.build_id) p
            where r.id = @subject and p.piece_id = q.id)
        select {JointRow.Columns} from joint j
        where removed_at is null and exists (
            select 1 from touched t where t.build_id = j.build_id
                and ((t.part_id = j.part_id and t.place = j.place) or (t.part_id = j.mate_part_id and t.place = j.mate_place)))
        order by id
        """;

    private const string OfJoint = $"select {JointRow.Columns} from joint where id = @subject and removed_at is null";

    private const string OfBuild = $"select {JointRow.Columns} from joint where build_id = @subject and removed_at is null order by id";

    private sealed record Owed(Guid Id, string Kind, Guid SubjectId, int Tries);

    /// <summary>Everything that is due now. Safe to run twice at once.</summary>
    [AutomaticRetry(Attempts = 0, OnAttemptsExceeded = AttemptsExceededAction.Delete)]
    public Task RunDueAsync(CancellationToken cancellation) =>
        OneRun.AllDueAsync(sources.Jobs, Turn, Due, clock, id => RunAsync(id, cancellation), cancellation);

    /// <summary>One owed look; false when it is not due, taken by somebody else, or failed for now.</summary>
    public async Task<bool> RunAsync(Guid id, CancellationToken cancellation)
    {
        try
        {
            await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
            await using var transaction = await connection.BeginTransactionAsync(cancellation);
            var owed = await connection.QuerySingleOrDefaultAsync<Owed>(new CommandDefinition(Take, new { id, now = clock.GetUtcNow() }, transaction, cancellationToken: cancellation));
            if (owed is null)
                return false;
            await LookAsync(connection, transaction, owed, cancellation);
            await connection.ExecuteAsync(new CommandDefinition(Done, new { id, now = clock.GetUtcNow() }, transaction, cancellationToken: cancellation));
            await transaction.CommitAsync(cancellation);
            return true;
        }
        catch (Exception error) when (error is not OperationCanceledException)
        {
            log.LogError(error, "A re-check failed and is tried again later");
            await NoteAsync(id, error.Message, cancellation);
            return false;
        }
    }

    private async Task LookAsync(NpgsqlConnection connection, NpgsqlTransaction transaction, Owed owed, CancellationToken cancellation)
    {
        var ofReport = owed.Kind == "re-check a report";
        var joints = (await connection.QueryAsync<JointRow>(new CommandDefinition(
            owed.Kind switch { "re-check a report" => OfReport, "re-check a joint" => OfJoint, _ => OfBuild }, new { subject = owed.SubjectId }, transaction, cancellationToken: cancellation))).AsList();
        var checks = new JointChecks(connection, transaction, clock.GetUtcNow(), cancellation);
        foreach (var joint in joints)
            await checks.LookAsync(joint, ofReport ? owed.SubjectId : null);
        Guid? report = ofReport ? owed.SubjectId : null;
        Guid? build = owed.Kind == "re-check a build" ? owed.SubjectId : null;
        await ChainChecks.RecheckAsync(connection, transaction, report, build, clock.GetUtcNow(), cancellation);
        await PairChecks.RecheckAsync(connection, transaction, report, build, clock.GetUtcNow(), cancellation);
        if (report is { } came)
            await ShiftWarnings.ApplyAsync(connection, transaction, came, clock.GetUtcNow(), cancellation);
    }

    private async Task NoteAsync(Guid id, string error, CancellationToken cancellation)
    {
        await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
        var now = clock.GetUtcNow();
        await connection.ExecuteAsync(new CommandDefinition(Failed, new { id, error, now }, cancellationToken: cancellation));
    }
}

/// <summary>Looks at one joint and writes what follows, in the transaction of the job.</summary>
public sealed class JointChecks(NpgsqlConnection connection, NpgsqlTransaction transaction, DateTimeOffset now, CancellationToken cancellation)
{
    // The lock is the joint's: whoever looks second sees what the first one's report and his own brought.
    private const string Lock = "select pg_advisory_xact_lock(hashtextextended('joint ' || @id::text, 0))";

    private const string Last = "select id, ordinal, form, verdict, answer::text as answer from joint_check where joint_id = @id order by ordinal desc limit 1";

    private const string Insert = """
        insert into joint_check (id, joint_id, owner_id, ordinal, checked_at, because, report_id, form, verdict, why, margin_mm, measured, holes, probability, milliseconds, answer)
        values (@Check, @Id, @OwnerId, @Ordinal, @now, @Because, @Report::uuid, @Form, @Verdict, @Why, @Margin::numeric, @Measured, @Holes, @Probability::numeric, @Milliseconds, @Answer::jsonb)
        """;

    private const string InsertCorrection = """
        insert into correction (id, check_id, joint_id, owner_id, work_order_id, piece_id, made_at, verdict, margin_mm, body)
        values (@Fresh, @Check, @Joint, @Owner, @WorkOrder, @Piece, @now, @Verdict, @Margin::numeric, @Body::jsonb)
        """;

    private const string WasCorrected = "select exists (select 1 from correction where joint_id = @joint and piece_id = @piece)";

    private const string Hold = """
        insert into joint_hold (id, joint_id, owner_id, work_order_id, piece_id, raised_at, raised_check)
        values (@Fresh, @Joint, @Owner, @WorkOrder, @Piece, @now, @Check) on conflict do nothing
        """;

    /// <summary>Let go by a person, at the margin that he saw: what is worse he has not seen.</summary>
    private const string WorseThanLetGo = """
        select distinct on (h.piece_id) h.piece_id, seen.margin_mm from joint_hold h
               cross join lateral (select margin_mm from joint_check c where c.joint_id = h.joint_id and c.checked_at <= h.lifted_at order by c.ordinal desc limit 1) seen
        where h.joint_id = @Joint and h.lifted_by is not null
              and not exists (select 1 from joint_hold o where o.joint_id = h.joint_id and o.piece_id = h.piece_id and o.lifted_at is null)
        order by h.piece_id, h.lifted_at desc
        """;

    /// <summary>Measured twice, the same piece may differ by this much, mm (common practice for a caliper between holes).</summary>
    private const decimal SameMargin = 0.05m;

    private sealed record LetGoRow(Guid PieceId, decimal? MarginMm);

    private const string Lift = """
        update joint_hold set lifted_at = @now, lifted_check = @Check where joint_id = @Joint and lifted_at is null
        returning piece_id
        """;

    private const string TellOne = "select tell(@kind, @organisation, @roles, @workOrder, @piece::uuid, @subject, @body, @path, @once, @now)";

    private static readonly string[] Engineers = ["engineer"];
    private static readonly string[] Makers = ["fabricator"];

    private sealed record LastRow(Guid Id, int Ordinal, string Form, string Verdict, string Answer);

    /// <returns>What was found; nothing is written when it is what was found before.</returns>
    public async Task<JointFinding> LookAsync(JointRow joint, Guid? report)
    {
        await ExecuteAsync(Lock, new { id = joint.Id });
        var facts = await new JointReading(connection, transaction, cancellation).OfAsync(joint);
        var watch = Stopwatch.GetTimestamp();
        var finding = facts.Find();
        var milliseconds = Stopwatch.GetElapsedTime(watch).TotalMilliseconds;
        var last = await connection.QuerySingleOrDefaultAsync<LastRow>(new CommandDefinition(Last, new { id = joint.Id }, transaction, cancellationToken: cancellation));
        var answer = JsonSerializer.Serialize(finding, JointJson.Options);
        if (last is not null && JointJson.Read<JointFinding>(last.Answer) is var before && JsonSerializer.Serialize(before, JointJson.Options) == answer)
            return finding;

        var check = Guid.CreateVersion7(now);
        await ExecuteAsync(Insert, new
        {
            Check = check,
            joint.Id,
            joint.OwnerId,
            Ordinal = (last?.Ordinal ?? 0) + 1,
            now,
            Because = report is null ? "the build changed" : "a report came",
            Report = report,
            finding.Form,
            finding.Verdict,
            finding.Why,
            Margin = finding.Margin,
            finding.Measured,
            Holes = finding.MeasuredOf,
            Probability = finding.Probability?.Value,
            Milliseconds = milliseconds,
            Answer = answer,
        });
        // What the mate's shop can change on its own piece; looked for once, when somebody is told.
        var mate = new Lazy<JointFinding>(facts.FindForMate);
        await CorrectAsync(facts, finding, mate, check);
        var turned = last is null || last.Verdict != "does not bolt up" || last.Form == "as drawn";
        if (finding is { Verdict: "does not bolt up", Form: not "as drawn" })
        {
            // Let go by somebody, it is held again only when it is worse than he saw.
            var letGo = turned ? [] : (await connection.QueryAsync<LetGoRow>(new CommandDefinition(WorseThanLetGo, new { Joint = joint.Id }, transaction, cancellationToken: cancellation))).AsList();
            var worse = letGo.Where(row => (decimal)finding.Margin!.Value < row.MarginMm - SameMargin).Select(row => row.PieceId).ToHashSet();
            if (turned || worse.Count > 0)
                await HoldAsync(facts, finding, mate, check, (last?.Ordinal ?? 0) + 1, turned ? null : worse);
        }
        else if (finding.Verdict == "bolts up")
        {
            await LiftAsync(facts, finding, check);
        }

        return finding;
    }

    private async Task CorrectAsync(JointFacts facts, JointFinding finding, Lazy<JointFinding> mate, Guid check)
    {
        foreach (var (piece, own) in new[] { (facts.PartPiece, true), (facts.MatePiece, false) })
        {
            if (piece is null || finding.Verdict == "not known" || finding.Form == "as drawn")
                continue;
            // A shop is told when something is to be done, and once more when it is done.
            var bad = finding.Verdict == "does not bolt up" || finding.Tight;
            if (!bad && !await connection.ExecuteScalarAsync<bool>(new CommandDefinition(WasCorrected, new { joint = facts.Joint.Id, piece = piece.PieceId }, transaction, cancellationToken: cancellation)))
                continue;
            var seen = own ? finding : mate.Value;
            await ExecuteAsync(InsertCorrection, new
            {
                Fresh = Guid.CreateVersion7(now),
                Check = check,
                Joint = facts.Joint.Id,
                Owner = facts.Joint.OwnerId,
                WorkOrder = piece.WorkOrderId,
                Piece = piece.PieceId,
                now,
                seen.Verdict,
                seen.Margin,
                Body = JsonSerializer.Serialize(CorrectionBody.Of(facts.Joint.Name, piece.Unit, seen), JointJson.Options),
            });
        }
    }

    private async Task HoldAsync(JointFacts facts, JointFinding finding, Lazy<JointFinding> mate, Guid check, int ordinal, HashSet<Guid>? worse)
    {
        var joint = facts.Joint;
        foreach (var (piece, side, own) in new[] { (facts.PartPiece, facts.Part, true), (facts.MatePiece, facts.Mate, false) })
        {
            if (piece is null || piece.Finished || !side.Holes.Any(hole => hole.AnyMeasured) || worse?.Contains(piece.PieceId) == false)
                continue;
            await ExecuteAsync(Hold, new { Fresh = Guid.CreateVersion7(now), Joint = joint.Id, Owner = joint.OwnerId, WorkOrder = piece.WorkOrderId, Piece = piece.PieceId, now, Check = check });
            var conforms = finding.Failed.Count == 0 ? " Every single dimension of its holes conforms; together they do not." : "";
            var subject = $"{piece.Serial} does not bolt up: joint {joint.Name}, {(finding.Obstructed.Count > 0 ? "a hole does not pass its own fastener" : $"{JointWords.WithUnit(-finding.Margin!.Value, piece.Unit)} too far")}";
            // Each shop is told what it can change on its own piece, in the unit of its drawing.
            var seen = own ? finding : mate.Value;
            var advice = seen.Advice.Count > 0 ? $"\nWay out: {CorrectionWords.Text(seen.Advice[0], piece.Unit, seen.Welded)} {CorrectionWords.Against(seen.AdviceBreaks, seen.AdviceUnproven, 0)}".TrimEnd() : "\nNo single change was found that helps.";
            var body = $"""
                Joint {joint.Name}, {finding.Form}: the fasteners do not pass all at once.{(worse is null ? "" : " It was let go when it stood better than this.")} Worst at hole {string.Join(", ", finding.Limiting.Take(6))}.{conforms}{advice}
                The next step of {piece.Serial} does not start before the joint bolts up or the engineer of the build shop decides.
                This is calculation, not approval: local codes, the licensed engineer and the qualified inspector decide.
                """;
            var once = $"joint {joint.Id} {ordinal}";
            await TellAsync(joint.OwnerId, Engineers, piece, subject, body, $"/joints/{joint.Id}", once);
            if (piece.ShopId != joint.OwnerId)
                await TellAsync(piece.ShopId, Makers, piece, subject, body, $"/pieces/{piece.PieceId}/correction", $"{once} {piece.Serial}");
        }
    }

    private async Task LiftAsync(JointFacts facts, JointFinding finding, Guid check)
    {
        var lifted = (await connection.QueryAsync<Guid>(new CommandDefinition(Lift, new { now, Check = check, Joint = facts.Joint.Id }, transaction, cancellationToken: cancellation))).AsList();
        foreach (var piece in new[] { facts.PartPiece, facts.MatePiece }.OfType<PlacedPiece>().Where(piece => lifted.Contains(piece.PieceId)))
        {
            var subject = $"{piece.Serial} bolts up now: joint {facts.Joint.Name}, {JointWords.WithUnit(finding.Margin!.Value, piece.Unit)} to spare";
            const string Body = "The hold of this joint is lifted; the piece may go on when nothing else holds it.";
            await TellAsync(facts.Joint.OwnerId, Engineers, piece, subject, Body, $"/joints/{facts.Joint.Id}", $"joint lifted {check}");
            if (piece.ShopId != facts.Joint.OwnerId)
                await TellAsync(piece.ShopId, Makers, piece, subject, Body, $"/pieces/{piece.PieceId}/correction", $"joint lifted {check} {piece.Serial}");
        }

        await NextTurn.TellAsync(connection, transaction, lifted, now, cancellation);
    }

    private Task<int> TellAsync(Guid organisation, string[] roles, PlacedPiece piece, string subject, string body, string path, string once) =>
        ExecuteAsync(TellOne, new { kind = "joint", organisation, roles, workOrder = piece.WorkOrderId, piece = piece.PieceId, subject, body, path, once, now });

    private Task<int> ExecuteAsync(string sql, object args) =>
        connection.ExecuteAsync(new CommandDefinition(sql, args, transaction, cancellationToken: cancellation));
}
