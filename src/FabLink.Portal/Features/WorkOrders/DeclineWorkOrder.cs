using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The shop does not take the work order on and says why; the buyer is told in the same transaction.</summary>
public static class DeclineWorkOrder
{
    public sealed record Request(Guid Id, string? Reason);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator() => RuleFor(request => request.Reason)
            .NotEmpty().WithMessage("Say why, so that the buyer knows what to change or whom to ask.")
            .MaximumLength(2000).WithMessage("At most 2000 characters.");
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Decline = """
            update work_order set declined_at = @Now, declined_by = @PersonId, decline_reason = @Reason, row_version = row_version + 1
            where id = @Id
            """;

        public async Task<OrderAnswer> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var (order, refusal) = await OrderAnswer.OpenAsync(work, actor, request.Id);
            if (order is null)
                return refusal!;
            var reason = request.Reason!.Trim();
            await work.ExecuteAsync(Decline, new { request.Id, Now = clock.GetUtcNow(), actor.PersonId, Reason = reason });
            await Tell.OrganisationAsync(
                work,
                clock.GetUtcNow(),
                "work order declined",
                order.OwnerId,
                ["buyer"],
                order.Id,
                piece: null,
                $"{order.ShopName} declined {order.Number}",
                $"Declined by {Behalf.Words(actor.Name, actor.OrganisationName, order.OnBehalf(actor) ? order.ShopName : null)}. Reason: {OrderStanding.Sentence(reason)}\nClose {order.Number} and write a new one.",
                $"/orders/{order.Id}");
            if (order.OnBehalf(actor))
                await OrderAnswer.TellShopAsync(work, clock.GetUtcNow(), order, "declined", $"{Behalf.Words(actor.Name, actor.OrganisationName, order.ShopName)} declined {order.Number}. Reason: {reason}");
            await work.CommitAsync();
            return new OrderAnswer.Given(order.Number, order.OnBehalf(actor) ? order.ShopName : null);
        }
    }
}
