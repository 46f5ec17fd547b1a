using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Shipping;

/// <summary>The packing slip that travels with the pieces: what is in the box and what is still due.</summary>
public static class ShowSlip
{
    public sealed record Slip(
        Guid Id, Guid WorkOrderId, string Number, string Note, DateTimeOffset ShippedAt, bool OnBehalf, string? By, string? Organisation, string From, string To);

    /// <summary>What was ordered is in this delivery, gone before, still due or scrapped.</summary>
    /// <param name="Scrapped">No other piece takes their place.</param>
    /// <param name="GoneBefore">On an earlier slip, or without one.</param>
    public sealed record Line(int Ordinal, string PartNumber, string PartName, string Revision, int Ordered, int StillDue, int Scrapped, int GoneBefore, int ShippedOnThis, string[] Serials);

    /// <summary>What the addressee sees of a line: what is in the box.</summary>
    public sealed record Packed(string PartNumber, string PartName, string Revision, string[] Serials);

    /// <param name="Order">Null for the addressee: it sees no order, no line and nothing that is still due.</param>
    public sealed record Page(Slip Slip, OrderHead? Order, IReadOnlyList<Line> Lines, IReadOnlyList<Packed> Packed);

    public sealed class Handler(Database database)
    {
        private const string Head = """
            select s.id, s.work_order_id, s.number, s.note, s.shipped_at, s.on_behalf, coalesce(p.name, f.name) as by, coalesce(o.name, f.organisation) as organisation,
                   coalesce(shop.name, f.shop, '') as "from", coalesce(t.name, '') as "to"
            from packing_slip s
            left join work_order w on w.id = s.work_order_id left join organisation shop on shop.id = w.shop_id
            left join organisation t on t.id = coalesce(s.to_id, w.owner_id)
            left join person p on p.id = s.shipped_by left join organisation o on o.id = p.organisation_id
            left join lateral sender_of(s.id) f on true
            where s.id = @id
            """;

        private const string Box = """
            select t.number as part_number, t.name as part_name, r.letter as revision, array_agg(i.serial order by i.serial) as serials
            from packing_slip_piece x join piece i on i.id = x.piece_id join part t on t.id = i.part_id join revision r on r.id = i.revision_id
            where x.packing_slip_id = @Id group by t.number, t.name, r.letter order by t.number, r.letter
            """;

        // "Still due" is as of this slip: a slip that travelled earlier keeps saying what it said.
        private const string Lines = """
            select l.ordinal, p.number as part_number, p.name as part_name, r.letter as revision, l.quantity as ordered,
                   (select count(*) from piece i where i.line_id = l.id and i.created_at <= @ShippedAt
                    and not exists (select 1 from packing_slip_piece x join packing_slip s on s.id = x.packing_slip_id
                                    where x.piece_id = i.id and (s.shipped_at, length(s.number), s.number) <= (@ShippedAt, length(@Number), @Number))
                    and not exists (select 1 from nonconformance n where n.piece_id = i.id and n.disposition in ('scrap', 'remake') and n.disposed_at <= @ShippedAt)
                    and (left_shop_at(i.id) > @ShippedAt) is not false)::integer as still_due,
                   (select count(distinct n.piece_id) from nonconformance n join piece i on i.id = n.piece_id
                    where i.line_id = l.id and n.disposition = 'scrap' and n.disposed_at <= @ShippedAt)::integer as scrapped,
                   (select count(*) from piece i where i.line_id = l.id
                    and not exists (select 1 from packing_slip_piece x where x.piece_id = i.id and x.packing_slip_id = @Id)
                    and not exists (select 1 from nonconformance n where n.piece_id = i.id and n.disposition in ('scrap', 'remake') and n.disposed_at <= @ShippedAt)
                    and (left_shop_at(i.id) <= @ShippedAt
                         or exists (select 1 from packing_slip_piece x join packing_slip s on s.id = x.packing_slip_id
                                    where x.piece_id = i.id and (s.shipped_at, length(s.number), s.number) < (@ShippedAt, length(@Number), @Number))))::integer as gone_before,
                   (select count(*) from packing_slip_piece x join piece i on i.id = x.piece_id where i.line_id = l.id and x.packing_slip_id = @Id)::integer as shipped_on_this,
                   array(select i.serial from packing_slip_piece x join piece i on i.id = x.piece_id where i.line_id = l.id and x.packing_slip_id = @Id order by i.serial) as serials
            from work_order_line l join revision r on r.id = l.revision_id join part p on p.id = r.part_id
            where l.work_order_id = @WorkOrderId order by l.ordinal
            """;

        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Slip>(Head, new { id }) is not { } slip)
                return null;
            var order = await OrderHead.LoadAsync(work, slip.WorkOrderId);
            if (order is null)
                return actor.May(Deed.SeePieces, Relation.Process) ? new Page(slip, null, [], await work.RowsAsync<Packed>(Box, new { slip.Id })) : null;
            if (!actor.May(Deed.SeeWorkOrders, order.RelationOf(actor)))
                return null;
            return new Page(slip, order, await work.RowsAsync<Line>(Lines, new { slip.Id, slip.WorkOrderId, slip.ShippedAt, slip.Number }), []);
        }
    }
}
