using FabLink.Portal.Features.Joints;
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

    /// <param name="Since">What a later report of the stage brought for the same value; null when it was not measured again.</param>
    public sealed record FailedValue(int Balloon, short Instance, int Count, string Name, string Requirement, string Unit, string Typed, string TypedUnit, string Class, string? Since, string? SinceUnit, string? SinceVerdict)
    {
        public static string Words(string typed, string? unit) => unit is null or "none" || typed.Any(letter => char.IsLetter(letter) || letter is '°' or '\'' or '"') ? typed : $"{typed} {unit}";
    }

    public sealed record ConcessionRow(Guid Id, string Reason, DateOnly? ValidUntil, DateTimeOffset GrantedAt, string GrantedBy, string[] Serials);

    /// <param name="Unsaid">A good report closed it before anybody decided.</param>
    public sealed record ListRow(
        Guid Id, string Number, string Stage, DateTimeOffset OpenedAt, string Serial, string PartNumber, string PartName, string? Disposition, DateTimeOffset? ClosedAt, string? Ended, bool Unsaid = false)
    {
        public bool IsPending => this is { ClosedAt: null, Ended: null };
    }

    public sealed record Page(Head Nonconformance, IReadOnlyList<FailedValue> Failed, IReadOnlyList<ConcessionRow> Concessions, IReadOnlyList<JointsOfPiece.Line> Joints, bool MayDispose);

    private const string Select = """
        select n.id, n.number, n.stage, n.opened_at, ob.name as opened_by, n.report_id, n.piece_id, p.serial, t.number as part_number, t.name as part_name,
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
        private const string Failed = """
            select c.balloon, v.instance, c.count, c.name, c.requirement, c.unit, v.typed, v.unit as typed_unit, c.class,
                   again.typed as since, again.unit as since_unit, again.verdict as since_verdict
            from report found cross join lateral (
                     select distinct on (m.characteristic_id, m.instance) m.*, r.submitted_at from measured_value m join report r on r.id = m.report_id
                     where r.piece_id = found.piece_id and r.stage = found.stage and (r.submitted_at, r.id) <= (found.submitted_at, found.id)
                     order by m.characteristic_id, m.instance, r.submitted_at desc, r.id desc) v
                 join characteristic c on c.id = v.characteristic_id
                 left join lateral (
                     select a.typed, a.unit, a.verdict from measured_value a join report r on r.id = a.report_id
                     where a.characteristic_id = v.characteristic_id and a.instance = v.instance and r.piece_id = found.piece_id and r.stage = found.stage
                           and (r.submitted_at, r.id) > (found.submitted_at, found.id)
                     order by r.submitted_at desc, r.id desc limit 1) again on true
            where found.id = @ReportId and v.verdict = 'does not conform'
                  and not exists (select 1 from concession_piece x join concession g on g.id = x.concession_id
                                  where x.piece_id = found.piece_id and g.stage = found.stage and v.submitted_at <= g.granted_at and g.granted_at < found.submitted_at)
            order by c.balloon, v.instance
            """;

        private const string Concessions = """
            select c.id, c.reason, c.valid_until, c.granted_at, g.name as granted_by,
                   array(select p.serial from concession_piece cp join piece p on p.id = cp.piece_id where cp.concession_id = c.id order by p.serial) as serials
            from concession c join person g on g.id = c.granted_by where c.nonconformance_id = @Id order by c.granted_at
            """;

        private const string All = """
            select n.id, n.number, n.stage, n.opened_at, p.serial, t.number as part_number, t.name as part_name, n.disposition, n.closed_at, s.ended,
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
            return new Page(
                head,
                await work.RowsAsync<FailedValue>(Failed, new { head.ReportId }),
                await work.RowsAsync<ConcessionRow>(Concessions, new { head.Id }),
                await JointsOfPiece.OfAsync(work, head.PieceId),
                head.IsPending && actor.May(Deed.DisposeNonconformance, actor.RelationTo(head.OwnerId, head.ShopId)));
        }

        public async Task<IReadOnlyList<ListRow>> ListAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowsAsync<ListRow>(All);
        }
    }
}
