using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>What becomes of a shop's answer to a work order; an order is answered once.</summary>
public abstract record OrderAnswer
{
    private OrderAnswer()
    {
    }

    /// <param name="OnBehalfOf">The shop, when somebody of the build shop said it for them.</param>
    public sealed record Given(string Number, string? OnBehalfOf) : OrderAnswer;

    public sealed record AlreadyAccepted(string Number, string? By, DateTimeOffset At) : OrderAnswer;

    public sealed record AlreadyDeclined(string Number, string? By, DateTimeOffset At) : OrderAnswer;

    /// <summary>Still a draft, or closed.</summary>
    public sealed record NotOpen(string Why) : OrderAnswer;

    public sealed record NotFound : OrderAnswer;

    public sealed record NotAllowed : OrderAnswer;

    /// <summary>The shop hears what was said in its name.</summary>
    internal static Task<int> TellShopAsync(Work work, DateTimeOffset now, OrderHead order, string said, string body) => Tell.OrganisationAsync(
        work, now, "said on your behalf", order.ShopId, ["fabricator"], order.Id, piece: null, $"{order.Number}: {said} on your behalf", body, $"/orders/{order.Id}");

    /// <summary>The order, locked, where the actor may answer it now; else why not.</summary>
    internal static async Task<(OrderHead? Order, OrderAnswer? Refusal)> OpenAsync(Work work, Actor actor, Guid id)
    {
        if (await OrderHead.LockAsync(work, id) is not { } order)
            return (null, new NotFound());
        OrderAnswer? refusal = !actor.May(Deed.AnswerWorkOrder, order.RelationOf(actor)) ? new NotAllowed()
            : order.AcceptedAt is { } accepted ? new AlreadyAccepted(order.Number, order.AcceptedBy, accepted)
            : order.DeclinedAt is { } declined ? new AlreadyDeclined(order.Number, order.DeclinedBy, declined)
            : !order.IsOpen ? new NotOpen(order.Shut)
            : null;
        return refusal is null ? (order, null) : (null, refusal);
    }
}
