using System.Security.Cryptography;
using System.Text;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Nonconformances;

/// <summary>One nonconformance: what failed, on which piece, what was decided, and the concession if one was granted.</summary>
public static class ShowNonconformance
{
    public sealed record Head(
        Guid Id,
        string Number,
        string Stage,
        DateTimeOffset OpenedAt,
        string OpenedBy,
        Guid ReportId,
        Guid PieceId,
        Guid RevisionId,
        string Serial,
        string PartNumber,
        string PartName,
        string Revision,
        Guid WorkOrderId,
        string? OrderNumber,
        Guid OwnerId,
        Guid? ShopId,
        string? Disposition,
        string? DispositionReason,
        DateTimeOffset? DisposedAt,
        string? DisposedBy,
        DateTimeOffset? ClosedAt,
        string? ClosedBy,
        Guid? ClosedByReportId,
        int RowVersion,
        string? Ended,
        string? Decision,
        bool OrderClosed,
        Guid? AfterId,
        string? After)
    {
        /// <summary>Something is still to be decided or done about it.</summary>
        public bool IsPending => this is { ClosedAt: null, Ended: null };
    }

    /// <summary>Where a good report closed it before anybody decided.</summary>
    public const string NothingDecided = "nothing; it was made to conform first";

    /// <summary>
    /// A value that a decision is about: what failed, whichever report of the nonconformance brought it, and what is not shown to conform beside it.
    /// What an earlier concession covers is not among them.
    /// </summary>
    /// <param name="Found">What failed or is not proven, as typed with its unit; null where nothing was measured.</param>
    /// <param name="Since">What was measured of it last, when that is another value.</param>
    /// <param name="Stands">The verdict of the newest value; "not measured" where there is none.</param>
    public sealed record OpenValue(Characteristic Asked, int Instance, string? Found, string? Since, string Stands)
    {
        /// <summary>What whoever measured wrote beside it.</summary>
        public string Note { get; init; } = "";

        public string BalloonText => Asked.NameOf(Instance);

        public bool IsOpen => Stands != "conforms";
    }

    private sealed record MeasuredRow(Guid CharacteristicId, short Instance, string Typed, string Unit, string Verdict, string Note, DateTimeOffset SubmittedAt)
    {
        public string Words => TypedValues.Words(Typed, Unit);
    }

    /// <summary>A decision that another one took the place of.</summary>
    public sealed record DecisionRow(string Disposition, string Reason, DateTimeOffset DecidedAt, string DecidedBy);

    public sealed record ConcessionRow(Guid Id, string Reason, DateOnly? ValidUntil, DateTimeOffset GrantedAt, string GrantedBy, string[] Serials);

    /// <param name="Unsaid">A good report closed it before anybody decided.</param>
    public sealed record ListRow(
        Guid Id, string Number, string Stage, DateTimeOffset OpenedAt, string Serial, string PartNumber, string PartName, string? Disposition, DateTimeOffset? ClosedAt, string? Ended, string? Decision, bool Unsaid = false)
    {
        public bool IsPending => this is { ClosedAt: null, Ended: null };

        public string Decided => Unsaid ? NothingDecided
            : Disposition is null ? "not yet"
            : IsPending && Decision is null ? $"{Disposition}, and it failed again: to be decided anew" : Disposition;
    }

    /// <param name="Values">What a decision is about, see <see cref="OpenValue"/>.</param>
    /// <param name="Before">Earlier decisions, oldest first.</param>
    public sealed record Page(
        Head Nonconformance,
        IReadOnlyList<OpenValue> Values,
        IReadOnlyList<ConcessionRow> Concessions,
        IReadOnlyList<DecisionRow> Before,
        IReadOnlyList<JointsOfPiece.Line> Joints,
        bool MayDispose)
    {
        /// <summary>What whoever measured wrote on the reports since it was found, newest first.</summary>
        public IReadOnlyList<NoteRow> Notes { get; init; } = [];

        /// <summary>What whoever decides has looked at, in a form that another look can be held against.</summary>
        public string Seen { get; } = SeenOf(Values);
    }

    public sealed record NoteRow(string Note, string By, DateTimeOffset At, Guid ReportId);

    /// <inheritdoc cref="Page.Seen"/>
    private static string SeenOf(IReadOnlyList<OpenValue> values) =>
        Convert.ToHexString(SHA256.HashData(Encoding.UTF8.GetBytes(string.Join('\n', values.Select(value => $"{value.BalloonText}\t{value.Stands}\t{value.Found}\t{value.Since}")))))[..16];

    private const string Select = """
        select n.id, n.number, n.stage, n.opened_at, ob.name as opened_by, n.report_id, n.piece_id, p.revision_id, p.serial, t.number as part_number, t.name as part_name,
               r.letter as revision, n.work_order_id, w.number as order_number, n.owner_id, w.shop_id, n.disposition, n.disposition_reason, n.disposed_at,
               db.name as disposed_by, n.closed_at, cb.name as closed_by, n.closed_by_report_id, n.row_version,
               case when n.closed_at is null then (select ended from piece_stand(p.id)) end as ended, decision_of(n) as decision, w.closed_at is not null as order_closed,
               a.id as after_id, a.serial as after
        from nonconformance n join piece p on p.id = n.piece_id join part t on t.id = p.part_id join revision r on r.id = p.revision_id
             join person ob on ob.id = n.opened_by left join person db on db.id = n.disposed_by left join person cb on cb.id = n.closed_by
             left join work_order w on w.id = n.work_order_id
             left join piece a on a.instead_of = p.id and n.disposition = 'remake'
        where n.id = @id
        """;

    public static Task<Head?> HeadAsync(Work work, Guid id) => work.RowAsync<Head>(Select, new { id });

    public sealed class Handler(Database database)
    {
        private const string Notes = """
            select r.note, p.name as by, r.submitted_at as at, r.id as report_id from report r join person p on p.id = r.submitted_by
            where r.piece_id = @PieceId and r.stage = @Stage and r.note <> '' and r.submitted_at between @OpenedAt and coalesce(@ClosedAt, 'infinity'::timestamptz)
            order by r.submitted_at desc, r.id desc
            """;

        /// <summary>Everything measured of the piece at the stage until it was closed, oldest first.</summary>
        private const string Measured = """
            select v.characteristic_id, v.instance, v.typed, v.unit, v.verdict, v.note, r.submitted_at
            from report r join measured_value v on v.report_id = r.id
            where r.piece_id = @PieceId and r.stage = @Stage and r.submitted_at <= coalesce(@ClosedAt, 'infinity'::timestamptz)
            order by r.submitted_at, r.id, v.characteristic_id, v.instance
            """;

        /// <summary>Concessions of others than this nonconformance; what they cover is not decided again.</summary>
        private const string ConcededBefore = """
            select max(g.granted_at) as at from concession_piece x join concession g on g.id = x.concession_id
            where x.piece_id = @PieceId and g.stage = @Stage and g.nonconformance_id is distinct from @Id and g.granted_at < coalesce(@ClosedAt, 'infinity'::timestamptz)
                  and (g.valid_until is null or g.valid_until >= (coalesce(@ClosedAt, now()) at time zone 'UTC')::date - 1)
            """;

        private const string Before = """
            select d.disposition, d.reason, d.decided_at, p.name as decided_by
            from nonconformance_decision d join person p on p.id = d.decided_by
            where d.nonconformance_id = @Id order by d.id
            """;

        private const string Concessions = """
            select c.id, c.reason, c.valid_until, c.granted_at, g.name as granted_by,
                   array(select p.serial from concession_piece cp join piece p on p.id = cp.piece_id where cp.concession_id = c.id order by p.serial) as serials
            from concession c join person g on g.id = c.granted_by where c.nonconformance_id = @Id order by c.granted_at
            """;

        private const string All = """
            select n.id, n.number, n.stage, n.opened_at, p.serial, t.number as part_number, t.name as part_name, n.disposition, n.closed_at, s.ended, decision_of(n) as decision,
                   n.closed_by_report_id is not null and n.disposition_reason is null as unsaid
            from nonconformance n join piece p on p.id = n.piece_id join part t on t.id = p.part_id
                 left join lateral piece_stand(p.id) s on n.closed_at is null
            order by n.closed_at is not null or s.ended is not null, n.opened_at desc limit 500
            """;

        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await HeadAsync(work, id) is not { } head)
                return null;
            var decisions = await work.RowsAsync<DecisionRow>(Before, new { head.Id });
            return new Page(
                head,
                await ValuesAsync(work, head),
                await work.RowsAsync<ConcessionRow>(Concessions, new { head.Id }),
                [.. decisions.Take(decisions.Count - 1)],
                await JointsOfPiece.OfAsync(work, head.PieceId),
                head.IsPending && actor.May(Deed.DisposeNonconformance, actor.RelationTo(head.OwnerId, head.ShopId)))
            {
                Notes =
                [
                    .. (await work.RowsAsync<NoteRow>(Notes, new { head.PieceId, head.Stage, head.OpenedAt, head.ClosedAt }))
                        .Select(row => row with { Note = SubmitReport.OwnWords(row.Note) }).Where(row => row.Note.Length > 0),
                ],
            };
        }

        /// <summary>What stands now, as <see cref="Page.Seen"/> has it.</summary>
        public static async Task<string> SeenAsync(Work work, Head head) => SeenOf(await ValuesAsync(work, head));

        private static async Task<IReadOnlyList<OpenValue>> ValuesAsync(Work work, Head head)
        {
            var measured = await work.RowsAsync<MeasuredRow>(Measured, new { head.PieceId, head.Stage, head.ClosedAt });
            var asked = await Measuring.CharacteristicsAsync(work, [head.RevisionId], head.Stage);
            var excused = (await Excused.OfAsync(work, [head.PieceId]))[head.PieceId].Select(row => row.Class).ToHashSet();
            var conceded = await work.ValueAsync<DateTimeOffset?>(ConcededBefore, new { head.PieceId, head.Stage, head.Id, head.ClosedAt });
            var of = measured.ToLookup(row => (row.CharacteristicId, (int)row.Instance));
            var values = new List<OpenValue>();
            foreach (var row in asked)
            {
                for (var instance = 1; instance <= row.Count; instance++)
                {
                    var all = of[(row.Id, instance)].ToList();
                    // What stood when it was opened, and what came after; what a concession covers is passed over.
                    var open = all.Where((value, at) => (value.SubmittedAt > head.OpenedAt || at == all.FindLastIndex(one => one.SubmittedAt <= head.OpenedAt)) && !(value.SubmittedAt <= conceded)).ToList();
                    var newest = open.LastOrDefault();
                    if (open.Find(value => value.Verdict == "does not conform") is { } failed)
                        values.Add(new OpenValue(row, instance, failed.Words, newest == failed ? null : newest!.Words, newest!.Verdict) { Note = failed.Note });
                    else if (newest is { Verdict: "not proven" })
                        values.Add(new OpenValue(row, instance, newest.Words, null, newest.Verdict) { Note = newest.Note });
                    else if (all.Count == 0 && conceded is null && !excused.Contains(row.Class))
                        values.Add(new OpenValue(row, instance, null, null, "not measured"));
                }
            }

            return values;
        }

        public async Task<IReadOnlyList<ListRow>> ListAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowsAsync<ListRow>(All);
        }
    }
}
