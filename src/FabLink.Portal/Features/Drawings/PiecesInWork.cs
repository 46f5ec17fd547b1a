using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Drawings;

/// <summary>Where each piece of a drawing's revisions is: what somebody must know before the drawing changes under it.</summary>
public static class PiecesInWork
{
    /// <param name="Step">The first step that is not finished; null when all are.</param>
    /// <param name="With">The organisation that does that step.</param>
    public sealed record Row(
        Guid PieceId,
        string Serial,
        Guid RevisionId,
        string Letter,
        Guid WorkOrderId,
        string WorkOrder,
        Guid ShopId,
        string Shop,
        string? Step,
        Guid? WithId,
        string? With,
        DateTimeOffset? StartedAt,
        string? Nonconformance,
        string? HeldAfter)
    {
        /// <summary>Where it is, in words.</summary>
        public string Where => Nonconformance is not null ? $"stopped: {Nonconformance} is open" : HeldAfter is not null ? $"held after {HeldAfter}" : Step is null ? "finished" : StartedAt is null ? $"waits for {Step}" : $"in work: {Step}";
    }

    private const string Select = """
        select p.id as piece_id, p.serial, r.id as revision_id, r.letter, w.id as work_order_id, w.number as work_order,
               w.shop_id, shop.name as shop, s.kind as step, s.organisation_id as with_id, doer.name as with, s.started_at,
               (select n.number from nonconformance n where n.piece_id = p.id and n.closed_at is null order by n.opened_at limit 1) as nonconformance,
               (select t.kind from piece_step ps join route_step t on t.id = ps.route_step_id
                where ps.piece_id = p.id and ps.finished_at is not null and t.gate <> 'none' and ps.opened_at is null order by ps.ordinal limit 1) as held_after
        from piece p
             join revision r on r.id = p.revision_id
             join work_order w on w.id = p.work_order_id
             join organisation shop on shop.id = w.shop_id
             left join lateral (
                 select t.kind, ps.organisation_id, ps.started_at from piece_step ps join route_step t on t.id = ps.route_step_id
                 where ps.piece_id = p.id and ps.finished_at is null order by ps.ordinal limit 1) s on true
             left join organisation doer on doer.id = s.organisation_id
        where r.drawing_id = @drawing and w.closed_at is null and w.declined_at is null
              and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
        order by r.letter, p.serial
        """;

    /// <summary>Pieces on open work orders of any revision of the drawing that the actor may see.</summary>
    public static Task<IReadOnlyList<Row>> OfDrawingAsync(Work work, Guid drawing) => work.RowsAsync<Row>(Select, new { drawing });
}
