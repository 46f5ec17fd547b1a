using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>A photo, print or scan that is kept with an order or a piece.</summary>
public sealed record PaperRow(Guid Id, string Name, string About, long Size, DateTimeOffset AddedAt, string? By, string? Organisation, string? Serial, string? OnBehalfOf);

/// <summary>The part of a page with its papers.</summary>
/// <param name="AttachTo">Where a new one is sent; null when this person may not.</param>
/// <param name="Shops">For whom the build shop keeps what they made, such as the evidence for what it says on their behalf; none for anybody else.</param>
public sealed record PapersPart(IReadOnlyList<PaperRow> Rows, string? AttachTo, IReadOnlyList<Pieces.Whose> Shops);

/// <summary>Reads the papers of an order or of a piece, as far as the actor may see them.</summary>
public static class Papers
{
    private const string Select = """
        select a.id, a.name, a.about, a.size, a.added_at, p.name as by, o.name as organisation, i.serial,
               case when a.for_id is not null then coalesce(s.name, 'the shop') end as on_behalf_of
        from attachment a left join person p on p.id = a.added_by left join organisation o on o.id = a.organisation_id left join piece i on i.id = a.piece_id
             left join organisation s on s.id = a.for_id
        where a.work_order_id = @order::uuid or a.piece_id = @piece::uuid
        order by a.added_at
        """;

    /// <summary>The shops that have a part in an order, for whom its build shop may keep something.</summary>
    private const string Shops = """
        select id, name from organisation
        where id in (select shop_id from work_order where id = @order union select organisation_id from route_step where work_order_id = @order)
              and id <> (select owner_id from work_order where id = @order) order by name
        """;

    public static Task<IReadOnlyList<Pieces.Whose>> ShopsAsync(Work work, Guid order) => work.RowsAsync<Pieces.Whose>(Shops, new { order });

    public static Task<IReadOnlyList<PaperRow>> OfOrderAsync(Work work, Guid order) => work.RowsAsync<PaperRow>(Select, new { order, piece = (Guid?)null });

    public static Task<IReadOnlyList<PaperRow>> OfPieceAsync(Work work, Guid piece) => work.RowsAsync<PaperRow>(Select, new { order = (Guid?)null, piece });
}
