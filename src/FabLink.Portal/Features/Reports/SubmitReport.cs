using System.Text.Json;
using FabLink.Engineering.Judging;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Instruments;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;
using Npgsql;

namespace FabLink.Portal.Features.Reports;

/// <summary>
/// Measured values of one or several pieces at one stage become reports, in one transaction with everything that follows:
/// verdicts, gates that open or close, nonconformances, notices, audit.
/// </summary>
public static class SubmitReport
{
    private const string OutOfCalibrationNote = "Taken although an instrument is out of calibration: ";
    private const string UnknownInstrumentNote = "Critical dimensions measured with what is in no book of instruments, its calibration not known: ";

    /// <summary>The note of a report without the lines that the portal wrote.</summary>
    public static string OwnWords(string note) =>
        string.Join('\n', note.Split('\n').Where(line => !line.StartsWith(OutOfCalibrationNote, StringComparison.Ordinal) && !line.StartsWith(UnknownInstrumentNote, StringComparison.Ordinal)));

    /// <param name="Number">In base units; attributes 1 (go) or 0 (no go).</param>
    /// <param name="Unit">The unit it was typed in.</param>
    /// <param name="Typed">As it was typed.</param>
    /// <param name="ExpandedUncertainty">The value's own U in base units; null lets the instrument's stand.</param>
    public sealed record Value(
        Guid CharacteristicId, int Instance, decimal? Number, string Unit, string Typed, decimal? ExpandedUncertainty, string Instrument, string Note);

    /// <param name="Values">None for a piece that is outside the sample of everything its stage asks for.</param>
    public sealed record PieceValues(Guid PieceId, IReadOnlyList<Value> Values);

    /// <param name="Name">As the person named it.</param>
    public sealed record File(string Name, string Sha256, long Size);

    /// <param name="File">Where the values came from a file.</param>
    /// <param name="EntryKey">Where they were typed: one key per page shown, however often its button is pressed.</param>
    /// <param name="CalibrationReason">Why an engineer takes a critical value of an instrument that is out of calibration.</param>
    /// <param name="OnBehalf">The build shop passes on what the shop measured.</param>
    public sealed record Request(string Stage, IReadOnlyList<PieceValues> Pieces, File? File, Guid? EntryKey, string Note = "", bool OnBehalf = false, string? CalibrationReason = null);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Stage).Must(stage => Stages.All.Contains(stage)).WithMessage("Choose the stage at which it was measured.");
            RuleFor(request => request.Pieces).NotEmpty().WithMessage("There is no value to submit.");
            RuleFor(request => request).Must(request => request.File is null != request.EntryKey is null)
                .WithMessage("A report comes from a file or is typed, not both.");
            RuleFor(request => request.EntryKey).Must((request, key) => key is null || request.Pieces.Count <= 1)
                .WithMessage("Typed values are of one piece.");
            RuleFor(request => request.Note).MaximumLength(2000);
        }
    }

    /// <param name="Before">True when this very report was there already; nothing was written for it then.</param>
    public sealed record Taken(Guid PieceId, string Serial, Guid ReportId, string Verdict, bool Before);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Opened">What was there before opened a hold whose step has begun since.</param>
        public sealed record Accepted(IReadOnlyList<Taken> Reports, bool Opened = false) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;

        /// <param name="Why">Names the serial and the balloon.</param>
        public sealed record Refused(string Why) : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Existing = """
            select r.piece_id, p.serial, r.id as report_id, r.verdict, true as before
            from report r join piece p on p.id = r.piece_id
            where (r.piece_id = any(@pieces) and r.stage = @stage and r.sha256 = @sha::text) or r.entry_key = @key::uuid
            """;

        private const string Over = "select p.serial, o.ended from over_among(@ids) o join piece p on p.id = o.id order by p.serial limit 1";

        private sealed record OverRow(string Serial, string Ended);

        /// <summary>Keys see past policies: the first one may be somebody else's and not to be seen.</summary>
        private const string SameFile = "report_piece_id_stage_sha256_key";

        private const string Insert = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, file_name, sha256, size, entry_key,
                                on_behalf, note, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count, missing)
            select of."Id", of."OwnerId", of."WorkOrderId", of."PieceId", of."RevisionId", @OrganisationId, @Stage, @source, @name::text, @sha256::text, @size::bigint, @EntryKey::uuid,
                   of."OnBehalf", of."Note", @now, @PersonId, of."Verdict", of."ValueCount", of."FailedCount", of."UnprovenCount", of."Missing"
            from jsonb_to_recordset(@reports::jsonb) of ("Id" uuid, "OwnerId" uuid, "WorkOrderId" uuid, "PieceId" uuid, "RevisionId" uuid, "OnBehalf" boolean, "Note" text,
                                                         "Verdict" text, "ValueCount" integer, "FailedCount" integer, "UnprovenCount" integer, "Missing" text[])
            """;

        private sealed record ReportRow(
            Guid Id, Guid OwnerId, Guid WorkOrderId, Guid PieceId, Guid RevisionId, bool OnBehalf, string Note, string Verdict, int ValueCount, int FailedCount, int UnprovenCount, IReadOnlyList<string> Missing);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var ids = request.Pieces.Select(piece => piece.PieceId).Distinct().Order().ToArray();
            if (ids.Length != request.Pieces.Count)
                return new Outcome.Refused("A piece is named twice.");
            var pieces = (await Measuring.PiecesAsync(work, ids)).ToDictionary(piece => piece.Id);
            if (pieces.Count != ids.Length)
                return new Outcome.NotFound();
            if (pieces.Values.Any(piece => !actor.May(Deed.SubmitReport, piece.RelationOf(actor))))
                return new Outcome.NotAllowed();
            if (await Measuring.NotGivenAsync(work, pieces.Values, request.Stage) is { } notGiven)
                return new Outcome.Refused(notGiven);

            // Whoever submits, starts or releases at the same piece waits here; the order of the ids keeps two files from waiting for each other.
            await work.ExecuteAsync("select pg_advisory_xact_lock(hashtextextended(id::text, 0)) from unnest(@ids) id order by id", new { ids });
            var before = await work.RowsAsync<Taken>(
                Existing, new { pieces = ids, stage = request.Stage, sha = request.File?.Sha256, key = request.EntryKey });
            var fresh = request.Pieces.Where(piece => before.All(taken => taken.PieceId != piece.PieceId)).ToList();
            if (request.EntryKey is not null && before.Count > 0)
                fresh = [];
            if (fresh.Count == 0)
            {
                var opened = await Consequences.OpenAgainAsync(work, before, request.Stage, clock.GetUtcNow()) > 0;
                if (opened)
                    await work.CommitAsync();
                return new Outcome.Accepted(before, opened);
            }

            if (await work.RowAsync<OverRow>(Over, new { ids = fresh.Select(piece => piece.PieceId).ToArray() }) is { } over)
                return new Outcome.Refused($"{over.Serial}: it is {PieceRoute.OverWords(over.Ended)}, nothing more is measured on it.");

            var asked = (await Measuring.CharacteristicsAsync(work, [.. pieces.Values.Select(piece => piece.RevisionId).Distinct()], request.Stage))
                .ToLookup(row => row.RevisionId);
            if (Unanswerable(fresh, pieces, asked) is { } why)
                return new Outcome.Refused(why);
            var instruments = await InstrumentBook.OfAsync(work);
            var reason = pieces.Values.All(piece => actor.May(Deed.OpenGate, piece.RelationOf(actor))) ? request.CalibrationReason : null;
            if (OutOfCalibration(fresh, pieces, asked, instruments, DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime), reason) is { } refused)
                return new Outcome.Refused(refused);
            var standing = await StageJudging.StandingAsync(work, ids, request.Stage);
            var excused = await Excused.OfAsync(work, ids);
            if (fresh.Find(entry => entry.Values.Count == 0 && !Excused.FromAll([.. asked[pieces[entry.PieceId].RevisionId]], excused[entry.PieceId])) is { } empty)
                return new Outcome.Refused($"{pieces[empty.PieceId].Serial}: there is no value to submit.");
            // Whatever others measured there, whether this actor sees it or not.
            foreach (var entry in fresh.Where(entry => entry.Values.Count == 0))
            {
                if (await work.ValueAsync<string>("select standing_verdict(@PieceId, @Stage)", new { entry.PieceId, request.Stage }) is var stands && stands != "conforms")
                    return new Outcome.Refused($"{pieces[entry.PieceId].Serial}: what was measured at stage {request.Stage} says “{stands}”; a report without values changes nothing of that. Measure it again.");
            }
            var conceded = await StageJudging.ConcededAsync(work, ids, request.Stage);
            var now = clock.GetUtcNow();
            var complete = fresh.ToDictionary(
                entry => entry.PieceId,
                entry => entry.Values.Select(instruments.Complete)
                    .Concat(StageJudging.JudgedAgain([.. asked[pieces[entry.PieceId].RevisionId]], standing[entry.PieceId], entry.Values)).ToList());
            var atStage = asked.ToDictionary(revision => revision.Key, revision => new StageJudging.Asked([.. revision]));
            var rows = new ReportRows(complete.Values.Sum(values => values.Count));
            var reports = new List<ReportRow>();
            var consequences = new List<Consequences.Of>();
            foreach (var entry in fresh)
            {
                var piece = pieces[entry.PieceId];
                var values = complete[piece.Id];
                var atThisStage = atStage[piece.RevisionId];
                var judgement = atThisStage.Judge(
                    standing[piece.Id].Concat(values.Select(value => StageJudging.StandingRow.Of(piece.Id, value))),
                    excused[piece.Id]);
                var report = new ReportRow(
                    Guid.CreateVersion7(now),
                    piece.OwnerId,
                    piece.WorkOrderId,
                    piece.Id,
                    piece.RevisionId,
                    request.OnBehalf && piece.RelationOf(actor) == Relation.Owner,
                    string.Join('\n', new[]
                    {
                        request.Note,
                        string.IsNullOrWhiteSpace(reason) ? "" : $"{OutOfCalibrationNote}{reason.Trim()}",
                        UnknownInstruments(values, atThisStage.Rows, instruments),
                    }.Where(line => line.Length > 0)),
                    Stages.Word(judgement.Overall),
                    values.Count,
                    judgement.Values.Count(value => value.Judgement.Verdict == Verdict.DoesNotConform),
                    judgement.Values.Count(value => value.Judgement.Verdict == Verdict.NotProven),
                    judgement.Missing);
                AddRows(rows, report.Id, piece, atThisStage, values, judgement);
                reports.Add(report);
                consequences.Add(new Consequences.Of(piece, report.Id, judgement)
                {
                    Brought = values.Select(value => (atThisStage.BalloonOf(value.CharacteristicId) ?? "", value.Instance)).ToHashSet(),
                    Conceded = conceded.TryGetValue(piece.Id, out var until) ? ConcededOf(atThisStage, standing[piece.Id], values, until) : null,
                });
            }

            try
            {
                await work.ExecuteAsync(Insert, new
                {
                    actor.OrganisationId,
                    request.Stage,
                    source = request.File is null ? "typed" : "file",
                    name = request.File?.Name,
                    sha256 = request.File?.Sha256,
                    size = request.File?.Size,
                    request.EntryKey,
                    now,
                    actor.PersonId,
                    reports = JsonSerializer.Serialize(reports),
                });
            }
            catch (PostgresException elsewhere) when (elsewhere.ConstraintName == SameFile)
            {
                return new Outcome.Refused(
                    $"{Serials.Words([.. fresh.Select(entry => pieces[entry.PieceId].Serial)])}: this very file was submitted at stage {request.Stage} by another organisation.");
            }

            await rows.WriteAsync(work);
            await Consequences.ApplyAsync(work, consequences, request.Stage, now);
            // After the commit a job looks again at what each report touches: joints, chains, pairs.
            await work.ExecuteAsync(
                "select ask_recheck('re-check a report', report, @now) from unnest(@reports) report", new { reports = consequences.Select(of => of.Report).ToArray(), now });
            if (request.File is null)
                await work.ExecuteAsync("delete from draft where person_id = @PersonId and stage = @Stage and piece_id = any(@ids)", new { actor.PersonId, request.Stage, ids });
            else
                await KeepDraft.LeaveOutAsync(work, fresh, request.Stage);
            await work.CommitAsync();
            var taken = reports.Select(report => new Taken(report.PieceId, pieces[report.PieceId].Serial, report.Id, report.Verdict, Before: false));
            return new Outcome.Accepted([.. before.Concat(taken).OrderBy(one => one.Serial, StringComparer.Ordinal)]);
        }

        /// <summary>What stood before, is not measured anew, and was there when the concession was granted.</summary>
        private static HashSet<(string Balloon, int Instance)> ConcededOf(
            StageJudging.Asked asked, IEnumerable<StageJudging.StandingRow> standing, List<Value> values, DateTimeOffset until)
        {
            var anew = values.Select(value => (value.CharacteristicId, value.Instance)).ToHashSet();
            return
            [
                .. from row in standing
                   where row.SubmittedAt <= until && !anew.Contains((row.CharacteristicId, row.Instance))
                   let balloon = asked.BalloonOf(row.CharacteristicId)
                   where balloon is not null
                   select (balloon, (int)row.Instance),
            ];
        }

        private static void AddRows(
            ReportRows rows,
            Guid report,
            Measuring.PieceRow piece,
            StageJudging.Asked asked,
            List<Value> values,
            ReportJudgement judgement)
        {
            var judged = judgement.Values.ToDictionary(value => (value.Characteristic.Balloon, value.Instance), value => value);
            foreach (var value in values)
            {
                var found = judged[(asked.BalloonOf(value.CharacteristicId)!, value.Instance)];
                rows.Add(report, piece.WorkOrderId, value, Stages.Word(found.Judgement.Verdict), found.Judgement.OffBy, found.Bonus);
            }
        }

        /// <summary>A critical value needs an instrument in calibration, unless an engineer of the build shop says why not.</summary>
        private static string? OutOfCalibration(
            List<PieceValues> entries,
            Dictionary<Guid, Measuring.PieceRow> pieces,
            ILookup<Guid, Characteristic> asked,
            InstrumentBook instruments,
            DateOnly day,
            string? reason)
        {
            foreach (var entry in entries)
            {
                var piece = pieces[entry.PieceId];
                var byId = asked[piece.RevisionId].Where(row => row is { Class: "critical", IsMeasured: true }).ToDictionary(row => row.Id);
                foreach (var value in entry.Values)
                {
                    if (byId.TryGetValue(value.CharacteristicId, out var row) && instruments.Assess(value, row, day, reason) is { Refused: true })
                        return $"{piece.Serial}, balloon {row.NameOf(value.Instance)}: {value.Instrument.Trim()} is not in calibration, and the dimension is critical. "
                            + "Measure it with another instrument; an engineer of the build shop may take it with a reason.";
                }
            }
            return null;
        }

        /// <summary>Whoever keeps a book of instruments and measures what is critical with one that is not in it: it is not refused, and it is not hidden.</summary>
        private static string UnknownInstruments(IReadOnlyList<Value> values, IReadOnlyList<Characteristic> characteristics, InstrumentBook instruments)
        {
            if (instruments.All.Count == 0)
                return "";
            var critical = characteristics.Where(row => row is { Class: "critical", IsMeasured: true }).Select(row => row.Id).ToHashSet();
            var names = values.Where(value => value.Instrument.Trim().Length > 0 && critical.Contains(value.CharacteristicId) && instruments.Find(value.Instrument) is null)
                .Select(value => value.Instrument.Trim()).Distinct(StringComparer.OrdinalIgnoreCase).ToList();
            return names.Count == 0 ? "" : $"{UnknownInstrumentNote}{string.Join(", ", names)}.";
        }

        /// <summary>What a well-formed page or file cannot send: a value for something that is not asked here, twice, or of the wrong sort.</summary>
        private static string? Unanswerable(
            List<PieceValues> entries, Dictionary<Guid, Measuring.PieceRow> pieces, ILookup<Guid, Characteristic> asked)
        {
            foreach (var entry in entries)
            {
                var piece = pieces[entry.PieceId];
                var byId = asked[piece.RevisionId].ToDictionary(row => row.Id);
                var seen = new HashSet<(Guid, int)>();
                foreach (var value in entry.Values)
                {
                    if (!byId.TryGetValue(value.CharacteristicId, out var row))
                        return $"{piece.Serial}: a value is for a characteristic that revision {piece.RevisionLetter} does not check at this stage.";
                    if (value.Instance < 1 || value.Instance > row.Count)
                        return $"{piece.Serial}, balloon {row.Balloon}: there is no instance {value.Instance} of {row.Count}.";
                    if (!seen.Add((value.CharacteristicId, value.Instance)))
                        return $"{piece.Serial}, balloon {row.NameOf(value.Instance)}: measured twice in one report.";
                    if (value.Number is null || (!row.IsMeasured && value.Number is not (0 or 1)))
                        return $"{piece.Serial}, balloon {row.NameOf(value.Instance)}: {(row.IsMeasured ? "a number" : "yes or no")} is needed.";
                    if (row.IsNeverNegative && value.Number < 0)
                        return $"{piece.Serial}, balloon {row.NameOf(value.Instance)}: {row.Requirement} is never below zero.";
                    if (value.ExpandedUncertainty <= 0)
                        return $"{piece.Serial}, balloon {row.NameOf(value.Instance)}: an uncertainty is more than nothing; leave it empty where it is not known.";
                }
            }
            return null;
        }
    }
}
