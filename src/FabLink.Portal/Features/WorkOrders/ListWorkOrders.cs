using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The work orders of the organisation: late ones first, then those that wait for it.</summary>
public static class ListWorkOrders
{
    /// <param name="Show"><c>open</c> (the default), <c>ours</c>: where it is our turn, or <c>closed</c>.</param>
    public sealed record Request(string? Show);

    /// <param name="IsOurs">Something of it is ours to do.</param>
    /// <param name="Ours">Pieces whose turn is ours, although the headline waits for another.</param>
    /// <param name="Elsewhere">Who has its pieces, where the shop has none of them; else null.</param>
    public sealed record Row(OrderFacts Facts, OrderStanding Standing, bool IsOurs, int Ours, string? Elsewhere)
    {
        public string Turn => (Elsewhere ?? Standing.TurnOf(Facts)) + (Ours == 0 ? "" : $", and yours: {(Ours == 1 ? "1 piece" : $"{Ours} pieces")}");
    }

    public sealed record Page(string Show, IReadOnlyList<Row> Rows, bool MayWrite);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        public async Task<Page> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            var show = request.Show is "ours" or "closed" ? request.Show : "open";
            var today = DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime);
            await using var work = await database.BeginAsync(actor, cancellation);
            var facts = await work.RowsAsync<OrderFacts>(show == "closed" ? OrderFacts.OfClosed : OrderFacts.OfOpen);
            var ours = actor.IsBuildShop ? Turn.BuildShop : Turn.Shop;
            var pieces = show == "closed" ? [] : await ShowBoard.PiecesAsync(work, new ShowBoard.Filter(), today);
            var piecesOf = pieces.ToLookup(piece => piece.Row.WorkOrderId);
            var rows = facts.Select(order => RowOf(order, today, [.. piecesOf[order.Id]], ours, actor.OrganisationId))
                // One piece that waits for the build shop does not stop the others of its order.
                .Where(row => show != "ours" || row.IsOurs)
                .OrderByDescending(row => row.Standing.Late).ThenByDescending(row => row.IsOurs).ThenBy(row => row.Facts.NextNeed ?? DateOnly.MaxValue);
            return new Page(show, [.. rows], actor.May(Deed.WriteWorkOrder, Relation.Own));
        }
    }

    private static Row RowOf(OrderFacts order, DateOnly today, IReadOnlyList<ShowBoard.PieceRow> pieces, Turn ours, Guid organisation)
    {
        var standing = OrderStanding.Of(order, today, pieces.Where(piece => piece.Route.WaitsForReport).Select(piece => piece.WhoseTurn).OfType<Whose>());
        var count = pieces.Count(piece => piece.WhoseTurn?.Id == organisation);
        var elsewhere = standing is { Turn: Turn.Shop, Measurers: null } && order.LinesWithoutPromise == 0 && pieces.All(piece => piece.WhoseTurn?.Id != order.ShopId)
            ? string.Join(" and ", pieces.Select(piece => piece.WaitsFor).OfType<string>().Distinct())
            : "";
        return elsewhere.Length > 0
            ? new Row(order, standing, count > 0, 0, elsewhere)
            : new Row(order, standing, standing.Turn == ours || count > 0, standing.Turn == ours ? 0 : count, null);
    }
}
