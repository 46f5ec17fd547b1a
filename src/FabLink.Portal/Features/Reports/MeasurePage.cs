using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Instruments;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Reports;

/// <summary>Where measuring begins: the pieces of a line, and the stages at which its revision asks for values.</summary>
public static class MeasurePage
{
    /// <param name="Verdict">The newest verdict at the stage; null when not measured yet.</param>
    public sealed record PieceAtStage(Guid Id, string Serial, Guid? ReportId, string? Verdict);

    /// <param name="Stages">The stages that ask for something and are the actor's to measure, in the order of the route.</param>
    /// <param name="Over">How those ended on which nothing more is measured.</param>
    /// <param name="Stage">The chosen one, or the one that the pieces wait at.</param>
    public sealed record Page(
        Guid LineId,
        Measuring.PieceRow First,
        IReadOnlyList<string> Stages,
        string Stage,
        IReadOnlyList<PieceAtStage> Pieces,
        int Asked,
        bool IsOwner,
        IReadOnlyDictionary<Guid, string> Over)
    {
        public bool AllOver => Pieces.All(piece => Over.ContainsKey(piece.Id));
    }

    /// <param name="Over">How it ended, behind "it is"; null while it is measured.</param>
    /// <param name="LastInstrument">What this person used last.</param>
    /// <param name="Paired">Balloons of the part in a guarded pair, as far as the actor may see it.</param>
    public sealed record Entry(
        Measuring.PieceRow Piece,
        string Stage,
        IReadOnlyList<Characteristic> Characteristics,
        KeepDraft.Draft Draft,
        IReadOnlyCollection<InstrumentBook.Row> Instruments,
        string LastInstrument,
        bool IsOwner,
        IReadOnlyList<CoarseGauge> Coarse,
        IReadOnlyList<Excused.Row> Excused,
        IReadOnlyList<string> TooEarly,
        string? Over,
        IReadOnlySet<int> Paired)
    {
        /// <summary>The report that was submitted here last; null before the first.</summary>
        public NewestRow? Newest { get; init; }

        /// <summary>A report came since these values were kept half typed; null when none did.</summary>
        public string? Overtaken => Newest is { } newest && newest.At > Draft.SavedAt && Draft.Entries.Count > 0
            ? $"{newest.By} submitted a report of this piece at this stage on {LocalTime.Time(newest.At)}: {newest.Verdict}. What is kept below was typed before that."
            : null;

        /// <summary>It is outside the sample of all that is asked here: it may be submitted without a value.</summary>
        public bool NothingIsAsked => Reports.Excused.FromAll(Characteristics, Excused);

        /// <summary>It is judged with its uncertainty, by its own rule or by that of a pair.</summary>
        public bool NeedsUncertainty(Characteristic row) => row.IsMeasured && (row.Rule != "simple" || Paired.Contains(row.Balloon));
    }

    /// <param name="EntryKey">Of the page it was typed on.</param>
    public sealed record NewestRow(Guid Id, string Verdict, string By, DateTimeOffset At, Guid? EntryKey)
    {
        /// <summary>What whoever typed on a page from before it should know.</summary>
        public string Remark => $"{By} submitted a report of this piece at this stage on {LocalTime.Time(At)}: {Verdict}. If you measured after that, submit once more; what you typed is below.";
    }

    public sealed class Handler(Database database)
    {
        private const string AskedStages = """
            select distinct unnest(stages) from characteristic where revision_id = @revision
            """;

        private const string WaitingStage = """
            select t.stage from piece_step s join route_step t on t.id = s.route_step_id
            where s.line_id = @line and t.stage is not null and (s.finished_at is null or (t.gate <> 'none' and s.opened_at is null))
            order by s.ordinal limit 1
            """;

        private const string PiecesAtStage = """
            select p.id, p.serial, r.id as report_id,
                   -- More is asked of it since the sample of its line failed.
                   case when r.verdict = 'conforms' and standing_verdict(p.id, @stage) = 'incomplete' then 'incomplete' else r.verdict end as verdict
            from piece p left join lateral (
                select id, verdict from report where piece_id = p.id and stage = @stage order by submitted_at desc, id desc limit 1) r on true
            where p.line_id = @line order by p.serial
            """;

        private const string GuardedPairs = """
            select left_balloon from pair join piece on piece.part_id = left_part_id where piece.id = @pieceId and rule = 'guarded' and removed_at is null
            union select right_balloon from pair join piece on piece.part_id = right_part_id where piece.id = @pieceId and rule = 'guarded' and removed_at is null
            """;

        private const string NewestReport = """
            select r.id, r.verdict, coalesce(p.name, 'somebody') as by, r.submitted_at as at, r.entry_key from report r left join person p on p.id = r.submitted_by
            where r.piece_id = @pieceId and r.stage = @stage order by r.submitted_at desc, r.id desc limit 1
            """;

        private const string LastUsed = """
            select v.instrument from report r join measured_value v on v.report_id = r.id
            where r.submitted_by = @PersonId and v.instrument <> '' order by r.submitted_at desc, v.instance limit 1
            """;

        public async Task<Page?> LineAsync(Actor actor, Guid lineId, string? stage, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var pieces = await Measuring.PiecesOfLineAsync(work, lineId);
            if (pieces.Count == 0 || !actor.May(Deed.SubmitReport, pieces[0].RelationOf(actor)))
                return null;
            var asked = await work.RowsAsync<string>(AskedStages, new { revision = pieces[0].RevisionId });
            var stages = (await Measuring.StagesAsync(work, pieces[0])).Where(asked.Contains).ToList();
            if (stage is null || !stages.Contains(stage))
                stage = await work.ValueAsync<string>(WaitingStage, new { line = lineId }) is { } waiting && stages.Contains(waiting)
                    ? waiting
                    : stages.FirstOrDefault() ?? "tack";
            var characteristics = await Measuring.CharacteristicsAsync(work, [pieces[0].RevisionId], stage);
            return new Page(
                lineId,
                pieces[0],
                stages,
                stage,
                await work.RowsAsync<PieceAtStage>(PiecesAtStage, new { line = lineId, stage }),
                characteristics.Sum(row => row.Count),
                pieces[0].RelationOf(actor) == Relation.Owner,
                await Measuring.OverAsync(work, [.. pieces.Select(piece => piece.Id)]));
        }

        public async Task<Entry?> PieceAsync(Actor actor, Guid pieceId, string stage, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (!Stages.All.Contains(stage)
                || await Measuring.PieceAsync(work, pieceId) is not { } piece
                || !actor.May(Deed.SubmitReport, piece.RelationOf(actor))
                || await Measuring.NotGivenAsync(work, [piece], stage) is not null)
                return null;
            var draft = await KeepDraft.ReadAsync(work, pieceId, stage);
            var last = draft.Instrument.Length > 0 ? draft.Instrument : await work.ValueAsync<string>(LastUsed, new { actor.PersonId }) ?? "";
            var characteristics = await Measuring.CharacteristicsAsync(work, [piece.RevisionId], stage);
            var instruments = await InstrumentBook.OfAsync(work);
            return new Entry(
                piece,
                stage,
                characteristics,
                draft,
                instruments.All,
                last,
                piece.RelationOf(actor) == Relation.Owner,
                CoarseGauge.Of(instruments, draft, last, characteristics),
                [.. (await Reports.Excused.OfAsync(work, [pieceId]))[pieceId]],
                await Measuring.TooEarlyAsync(work, [pieceId], stage),
                (await Measuring.OverAsync(work, [pieceId])).GetValueOrDefault(pieceId),
                (await work.RowsAsync<int>(GuardedPairs, new { pieceId })).ToHashSet())
            {
                Newest = await work.RowAsync<NewestRow>(NewestReport, new { pieceId, stage }),
            };
        }
    }
}
