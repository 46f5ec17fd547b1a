using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Instruments;
using FabLink.Portal.Features.Reports.Import;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports;

/// <summary>What was understood of an uploaded file: matched, missing, wrong; with file, row and field. Reads the kept file again each time.</summary>
public static class PreviewFile
{
    public sealed record UploadRow(Guid Id, Guid LineId, string Stage, string FileName, string Sha256, long Size, bool OnBehalf, DateTimeOffset UploadedAt);

    public sealed record TakenRow(Guid Id, Guid PieceId, string Serial);

    public sealed record NewestRow(Guid Id, string Serial, string Verdict, string By, DateTimeOffset At)
    {
        /// <summary>What whoever looked at the preview before it came should know.</summary>
        public string Remark => $"{Serial}: {By} submitted a report at this stage on {Platform.Web.LocalTime.Time(At)}: {Verdict}. If what is in this file was measured after that, submit once more.";
    }

    /// <param name="Pieces">All pieces of the line, by serial.</param>
    /// <param name="Characteristics">What the revision asks for at the stage.</param>
    public sealed record Preview(
        UploadRow Upload,
        IReadOnlyList<Measuring.PieceRow> Pieces,
        IReadOnlyList<Characteristic> Characteristics,
        Matched Matched,
        bool IsOwner)
    {
        public IReadOnlyList<CoarseGauge> Coarse { get; init; } = [];

        /// <summary>No piece of the line is measured any more.</summary>
        public bool AllOver { get; init; }

        /// <summary>Reports that this very file has become already.</summary>
        public IReadOnlyList<TakenRow> Taken { get; init; } = [];

        /// <summary>Every piece in the file has its report of it.</summary>
        public bool IsTaken => Matched.Values.Count > 0 && Matched.Values.All(value => Taken.Any(taken => taken.PieceId == value.Piece.Id));

        /// <summary>The newest report of its pieces at this stage that came from elsewhere than from this file; null before the first.</summary>
        public NewestRow? Newest { get; init; }

        /// <summary>A report came since the file was sent: what is in the file may be older than it.</summary>
        public NewestRow? Overtaken => !IsTaken && Newest is { } newest && newest.At > Upload.UploadedAt ? newest : null;

        /// <summary>What whoever submits has looked at.</summary>
        public string Seen => Newest?.Id.ToString("N") ?? "none";

        /// <summary>So many values are not in the file and stand from an earlier report.</summary>
        public int StandBefore { get; init; }

        /// <summary>The request that submitting this preview means.</summary>
        public SubmitReport.Request ToRequest(string note) => new(
            Upload.Stage,
            [.. Matched.Values.GroupBy(value => value.Piece.Id).Select(piece => new SubmitReport.PieceValues(piece.Key, [.. piece.Select(ToValue)]))],
            new SubmitReport.File(Upload.FileName, Upload.Sha256, Upload.Size),
            null,
            note,
            Upload.OnBehalf);

        internal static SubmitReport.Value ToValue(MatchedValue value) => new(
            value.Characteristic.Id,
            value.Instance,
            value.Value,
            Engineering.Quantities.Units.Symbol(value.Unit),
            value.Source.Typed,
            value.ExpandedUncertainty,
            value.Source.Instrument,
            value.Source.Note);
    }

    public sealed class Handler(Database database, FileStore files)
    {
        private const string Upload = "select id, line_id, stage, file_name, sha256, size, on_behalf, uploaded_at from upload where id = @id";

        private const string Taken = """
            select r.id, r.piece_id, p.serial from report r join piece p on p.id = r.piece_id
            where r.sha256 = @Sha256 and r.stage = @Stage and p.line_id = @LineId order by p.serial
            """;

        private const string Newest = """
            select r.id, p.serial, r.verdict, coalesce(b.name, 'somebody') as by, r.submitted_at as at
            from report r join piece p on p.id = r.piece_id left join person b on b.id = r.submitted_by
            where r.piece_id = any(@measured) and r.stage = @Stage and r.sha256 is distinct from @Sha256
            order by r.submitted_at desc, r.id desc limit 1
            """;

        /// <returns>Null when there is no such upload of this organisation.</returns>
        public async Task<Preview?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<UploadRow>(Upload, new { id }) is not { } upload)
                return null;
            var pieces = await Measuring.PiecesOfLineAsync(work, upload.LineId);
            if (pieces.Count == 0)
                return null;
            var drawn = await Measuring.CharacteristicsAsync(work, pieces[0].RevisionId);
            var characteristics = drawn.Where(row => row.Stages.Contains(upload.Stage)).ToList();
            await using var content = files.OpenRead(upload.Sha256);
            var excused = await Excused.OfAsync(work, [.. pieces.Select(piece => piece.Id)]);
            var classOf = characteristics.ToDictionary(row => row.Id, row => row.Class);
            var over = await Measuring.OverAsync(work, [.. pieces.Select(piece => piece.Id)]);
            var all = Matching.Of(MeasurementFile.Read(content, upload.FileName), Expected(upload.Stage, pieces, over, drawn) with { Partial = pieces[0].RelationOf(actor) == Relation.Process });
            // A file may bring only some things again: what an earlier report brought still stands.
            var standing = (await StageJudging.StandingAsync(work, [.. all.Missing.Select(one => one.Piece.Id).Distinct()], upload.Stage))
                .SelectMany(piece => piece).Select(row => (row.PieceId, row.CharacteristicId, (int)row.Instance)).ToHashSet();
            var matched = all with
            {
                Missing =
                [
                    .. all.Missing.Where(one => excused[one.Piece.Id].All(row => row.Class != classOf[one.Characteristic.Id])
                                                    && !standing.Contains((one.Piece.Id, one.Characteristic.Id, one.Instance))),
                ],
            };
            Guid[] measured = [.. all.Values.Select(value => value.Piece.Id).Distinct()];
            var early = await Measuring.TooEarlyAsync(work, measured, upload.Stage);
            var ended = matched.Values.DistinctBy(value => value.Piece.Id).Where(value => over.ContainsKey(value.Piece.Id))
                .Select(value => new TableProblem(Severity.Refuse, upload.FileName, value.Source.Row, "serial", $"{value.Piece.Serial}: it is {over[value.Piece.Id]}, nothing more is measured on it."));
            matched = matched with { Problems = [.. ended, .. early.Select(why => new TableProblem(Severity.Warn, upload.FileName, null, "stage", why)), .. matched.Problems] };
            return new Preview(upload, pieces, characteristics, matched, pieces[0].RelationOf(actor) == Relation.Owner)
            {
                Taken = await work.RowsAsync<TakenRow>(Taken, new { upload.Sha256, upload.Stage, upload.LineId }),
                Newest = await work.RowAsync<NewestRow>(Newest, new { measured, upload.Stage, upload.Sha256 }),
                AllOver = over.Count == pieces.Count,
                StandBefore = all.Missing.Count(one => standing.Contains((one.Piece.Id, one.Characteristic.Id, one.Instance))),
                Coarse = CoarseGauge.Of(await InstrumentBook.OfAsync(work), matched.Values.Select(Preview.ToValue), characteristics),
            };
        }

        private static Expectation Expected(
            string stage, IReadOnlyList<Measuring.PieceRow> pieces, IReadOnlyDictionary<Guid, string> over, IReadOnlyList<Characteristic> characteristics) => new(
            pieces[0].PartNumber,
            pieces[0].RevisionLetter,
            stage,
            [.. characteristics.Select(row => Expected(row) with { Required = row.Stages.Contains(stage) })],
            [.. pieces.Select(piece => new ExpectedPiece(piece.Id, piece.Serial, over.ContainsKey(piece.Id)))]);

        internal static ExpectedCharacteristic Expected(Characteristic row) => new(
            row.Id, row.Balloon, row.Count, row.UnitOf, row.Requirement, row.Nominal, row.Limits, Required: true, FormOf(row), row.IsNeverNegative);

        private static AnswerForm FormOf(Characteristic row) => row.Kind switch
        {
            "attribute" => AnswerForm.GoNoGo,
            "text" => AnswerForm.YesOrNo,
            _ => AnswerForm.Number,
        };
    }
}
