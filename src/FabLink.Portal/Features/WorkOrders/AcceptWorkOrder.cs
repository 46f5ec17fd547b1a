using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The shop takes the work order on, or somebody of the build shop says so on its behalf.</summary>
public static class AcceptWorkOrder
{
    public sealed record Request(Guid Id);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Accepted(string Number, string? OnBehalfOf) : Outcome;

        public sealed record AlreadyAccepted(string Number, string? By, DateTimeOffset At) : Outcome;

        public sealed record AlreadyDeclined(string Number, string? By, DateTimeOffset At) : Outcome;

        /// <summary>Still a draft, or closed.</summary>
        public sealed record NotOpen(string Number) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Accept = """
            update work_order set accepted_at = @Now, accepted_by = @PersonId, accepted_for = @OnBehalf, row_version = row_version + 1
            where id = @Id
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.AnswerWorkOrder, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (order.AcceptedAt is { } accepted)
                return new Outcome.AlreadyAccepted(order.Number, order.AcceptedBy, accepted);
            if (order.DeclinedAt is { } declined)
                return new Outcome.AlreadyDeclined(order.Number, order.DeclinedBy, declined);
            if (!order.IsOpen)
                return new Outcome.NotOpen(order.Number);
            var behalf = order.OnBehalf(actor);
            var now = clock.GetUtcNow();
            await work.ExecuteAsync(Accept, new { request.Id, Now = now, actor.PersonId, OnBehalf = behalf });
            if (!behalf)
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
            return new Outcome.Accepted(order.Number, behalf ? order.ShopName : null);
        }
    }
}
