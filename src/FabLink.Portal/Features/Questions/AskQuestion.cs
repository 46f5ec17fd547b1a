using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.Questions;

/// <summary>
/// The shop asks about the order, a drawing or one characteristic. From then on the clock of the order stands for the shop:
/// it says that it waits for the build shop's answer, and since when. On a cancelled order the shop asks what becomes of what is made.
/// </summary>
public static class AskQuestion
{
    /// <param name="RevisionId">The drawing it is about; null when it is about the order.</param>
    /// <param name="CharacteristicId">The characteristic it is about; its revision follows from it.</param>
    public sealed record Request(Guid WorkOrderId, Guid? RevisionId, Guid? CharacteristicId, string? Body);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator() => RuleFor(request => request.Body)
            .NotEmpty().WithMessage("Write the question.")
            .MaximumLength(4000).WithMessage("At most 4000 characters.");
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="ClockStands">The order is open; on a cancelled one there is no clock any more.</param>
        public sealed record Asked(Guid Id, string? OnBehalfOf, bool ClockStands) : Outcome;

        /// <summary>The drawing or characteristic is not part of this order.</summary>
        public sealed record NotOnTheOrder : Outcome;

        /// <summary>A draft, declined, or closed as done.</summary>
        public sealed record TakesNone(string Why, string OwnerName) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string About = """
            select r.id as revision_id, d.number || ' ' || r.letter || coalesce(', balloon ' || c.balloon, '') as words
            from work_order_line l join revision r on r.id = l.revision_id join drawing d on d.id = r.drawing_id
            left join characteristic c on c.revision_id = r.id and c.id = @CharacteristicId::uuid
            where l.work_order_id = @WorkOrderId
              and (@RevisionId::uuid is null or r.id = @RevisionId::uuid) and (@CharacteristicId::uuid is null or c.id is not null)
            limit 1
            """;

        private const string Insert = """
            insert into question (id, work_order_id, revision_id, characteristic_id, body, asked_at, asked_by, on_behalf)
            values (@Id, @WorkOrderId, @RevisionId, @CharacteristicId, @Body, @Now, @PersonId, @OnBehalf)
            """;

        private sealed record Subject(Guid RevisionId, string Words);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LoadAsync(work, request.WorkOrderId) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.AskQuestion, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!order.TakesQuestions)
                return new Outcome.TakesNone(order.Shut, order.OwnerName);
            Subject? about = null;
            if (request.RevisionId is not null || request.CharacteristicId is not null)
            {
                about = await work.RowAsync<Subject>(About, new { request.WorkOrderId, request.RevisionId, request.CharacteristicId });
                if (about is null)
                    return new Outcome.NotOnTheOrder();
            }

            var now = clock.GetUtcNow();
            var id = Guid.CreateVersion7(now);
            var behalf = order.OnBehalf(actor);
            var body = request.Body!.Trim();
            await work.ExecuteAsync(Insert, new
            {
                Id = id,
                request.WorkOrderId,
                about?.RevisionId,
                request.CharacteristicId,
                Body = body,
                Now = now,
                actor.PersonId,
                OnBehalf = behalf,
            });
            await Tell.OrganisationAsync(
                work,
                now,
                "question asked",
                order.OwnerId,
                ["engineer", "buyer"],
                order.Id,
                piece: null,
                $"{order.ShopName} asks about {(about is null ? "" : $"{about.Words} on ")}{order.Number}",
                $"{body}\n\n{order.Number}{(order.IsOpen ? "" : " is cancelled; this question of it")} waits for your answer since {LocalTime.TimeAndZone(now)}.",
                $"/orders/{order.Id}#question-{id}");
            await work.CommitAsync();
            return new Outcome.Asked(id, behalf ? order.ShopName : null, order.IsOpen);
        }
    }
}
