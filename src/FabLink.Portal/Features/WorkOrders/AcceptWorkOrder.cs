using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The shop takes the work order on, or somebody of the build shop says so on its behalf.</summary>
public static class AcceptWorkOrder
{
    public sealed record Request(Guid Id);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Accept = """
            update work_order set accepted_at = @Now, accepted_by = @PersonId, accepted_for = @OnBehalf, row_version = row_version + 1
            where id = @Id
            """;

        public async Task<OrderAnswer> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var (order, refusal) = await OrderAnswer.OpenAsync(work, actor, request.Id);
            if (order is null)
                return refusal!;
            var behalf = order.OnBehalf(actor);
            var now = clock.GetUtcNow();
            await work.ExecuteAsync(Accept, new { request.Id, Now = now, actor.PersonId, OnBehalf = behalf });
            if (behalf)
            {
                await OrderAnswer.TellShopAsync(work, now, order, "accepted", $"{Behalf.Words(actor.Name, actor.OrganisationName, order.ShopName)} accepted {order.Number}. If that is not so, say it as a question of the order.");
            }
            else
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "work order accepted",
                    order.OwnerId,
                    ["buyer"],
                    order.Id,
                    piece: null,
                    $"{order.ShopName} accepted {order.Number}",
                    $"{actor.Name} of {order.ShopName} accepted {order.Number}.",
                    $"/orders/{order.Id}");
            }

            await work.CommitAsync();
            return new OrderAnswer.Given(order.Number, behalf ? order.ShopName : null);
        }
    }
}
