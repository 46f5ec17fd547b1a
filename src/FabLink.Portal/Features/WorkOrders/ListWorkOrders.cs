using FabLink.Portal.Features.Board;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The work orders of the organisation: late ones first, then those that wait for it.</summary>
public static class ListWorkOrders
{
    /// <param name="Show"><c>open</c> (the default), <c>ours</c>: where it is our turn, or <c>closed</c>.</param>
    public sealed record Request(string? Show);

    /// <param name="Ours">Pieces whose turn is ours, although the headline waits for another.</param>
    public sealed record Row(OrderFacts Facts, OrderStanding Standing, int Ours = 0)
    {
        public string Turn => Standing.TurnOf(Facts) + (Ours == 0 ? "" : $", and yours: {(Ours == 1 ? "1 piece" : $"{Ours} pieces")}");
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
            var oursOf = pieces.Where(piece => piece.TurnId == actor.OrganisationId).CountBy(piece => piece.Row.WorkOrderId).ToDictionary();
            var rows = facts.Select(order => OrderStanding.Of(order, today) is var standing && standing.Turn == ours ? new Row(order, standing) : new Row(order, standing, oursOf.GetValueOrDefault(order.Id)))
                // One piece that waits for the build shop does not stop the others of its order.
                .Where(row => show != "ours" || row.Standing.Turn == ours || row.Ours > 0)
                .OrderByDescending(row => row.Standing.Late).ThenByDescending(row => row.Standing.Turn == ours).ThenBy(row => row.Facts.NextNeed ?? DateOnly.MaxValue);
            return new Page(show, [.. rows], actor.May(Deed.WriteWorkOrder, Relation.Own));
        }
    }
}
