using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Drawings;

/// <summary>Where each piece of a drawing's revisions is: what somebody must know before the drawing changes under it.</summary>
public static class PiecesInWork
{
    /// <summary>The piece on its order.</summary>
    public sealed record Head(Guid PieceId, string Serial, Guid RevisionId, string Letter, Guid WorkOrderId, string WorkOrder, Guid ShopId, string Shop);

    public sealed record Row(Head Piece, PieceOnRoute OnRoute)
    {
        private PieceRoute Route => OnRoute.Route;

        /// <summary>The step where it is; null when its route is done.</summary>
        public StepFacts? Step => Route.Current;

        /// <summary>Whose turn it is, as on the page of the piece.</summary>
        public string With => OnRoute.Turn ?? OnRoute.Route.Steps.LastOrDefault(step => step.StartedAt is not null)?.OrganisationName ?? Piece.Shop;

        /// <summary>Where it is, in words.</summary>
        public string Where => (Route, Step) switch
        {
            (_, null) => "finished",
            ({ OpenNonconformance: { } number }, _) => $"stopped: {number} is open",
            (_, { State: StepState.Held or StepState.WaitingForWitness }) => $"held after {Step.Kind}",
            (_, { StartedAt: null }) when OnRoute.OnTheWay is { } way => way.Words,
            (_, { StartedAt: null }) => $"waits for {Step.Kind}",
            _ => $"in work: {Step.Kind}",
        };

        /// <summary>Since when the step is in work; null when it is not.</summary>
        public DateTimeOffset? Since => Step is { FinishedAt: null, StartedAt: { } started } && Route.OpenNonconformance is null ? started : null;
    }

    private const string Select = """
        select p.id as piece_id, p.serial, r.id as revision_id, r.letter, w.id as work_order_id, w.number as work_order, w.shop_id, shop.name as shop
        from piece p
             join revision r on r.id = p.revision_id
             join work_order w on w.id = p.work_order_id
             join organisation shop on shop.id = w.shop_id
        where r.drawing_id = @drawing and w.closed_at is null and w.declined_at is null
              and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
        order by r.letter, p.serial
        """;

    /// <summary>Pieces on open work orders of any revision of the drawing that the actor may see.</summary>
    public static async Task<IReadOnlyList<Row>> OfDrawingAsync(Work work, Guid drawing)
    {
        var heads = await work.RowsAsync<Head>(Select, new { drawing });
        var routes = (await PieceRoutes.OfPiecesAsync(work, [.. heads.Select(head => head.PieceId)])).ToDictionary(piece => piece.Id);
        return [.. heads.Select(head => new Row(head, routes[head.PieceId]))];
    }
}
