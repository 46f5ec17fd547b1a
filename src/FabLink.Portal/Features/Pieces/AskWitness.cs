using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Pieces;

/// <summary>
/// Whoever does the step invites the build shop to witness it. The engineer comes and releases it, or the route goes on by itself
/// when the notice time is over (<see cref="SweepWitness"/>).
/// </summary>
public static class AskWitness
{
    public sealed record Request(IReadOnlyList<Guid> StepIds) : IStepsChosen;

    public sealed class Validator : StepsChosenValidator<Request>;

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Asked(IReadOnlyList<string> Serials, DateTimeOffset GoesOnAt) : Outcome;

        public sealed record AlreadyAsked(string Serial, string? By, DateTimeOffset At, DateTimeOffset GoesOnAt) : Outcome;

        public sealed record NoWitnessPoint(string Serial, string Kind) : Outcome;

        /// <summary>A witness is invited to work that has begun.</summary>
        public sealed record NotStarted(string Serial, string Kind) : Outcome;

        public sealed record NotYours(string Serial, string Organisation) : Outcome;

        public sealed record Refused(string Serial, RouteRefusal Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Ask = """
            update piece_step set asked_at = @Now, asked_by = @PersonId, on_behalf = on_behalf or @OnBehalf, row_version = row_version + 1
            where id = @Id and asked_at is null
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await MovingStep.LoadAsync(work, request.StepIds) is not { } steps)
                return new Outcome.NotFound();
            var now = clock.GetUtcNow();
            foreach (var step in steps)
            {
                if (!actor.May(Deed.MoveStep, step.RelationOf(actor)))
                    return new Outcome.NotAllowed();
                if (!step.MovedBy(actor))
                    return new Outcome.NotYours(step.Serial, step.OrganisationName);
                if (step.Gate != "witness")
                    return new Outcome.NoWitnessPoint(step.Serial, step.Kind);
                if (step.AskedAt is { } at)
                    return new Outcome.AlreadyAsked(step.Serial, step.AskedBy, at, GoesOn(step, at));
                if (step.StartedAt is null)
                    return new Outcome.NotStarted(step.Serial, step.Kind);
                if (await step.WriteAsync(work, Ask, now) is { } why)
                    return new Outcome.Refused(step.Serial, why);
            }

            var goesOn = steps.Max(step => GoesOn(step, now));
            foreach (var order in steps.GroupBy(step => step.WorkOrderId))
            {
                var serials = Serials.Words([.. order.Select(step => step.Serial)]);
                var one = order.Count() == 1 ? order.First() : null;
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "witness invited",
                    order.First().OwnerId,
                    ["engineer"],
                    order.Key,
                    one?.PieceId,
                    $"You are invited to witness {order.First().Kind} of {serials}",
                    $"{actor.Name} ({actor.OrganisationName}) invites you. Come and release it, or it goes on by itself on {LocalTime.TimeAndZone(goesOn)}.",
                    one is null ? $"/orders/{order.Key}" : $"/pieces/{one.PieceId}");
            }

            await work.CommitAsync();
            return new Outcome.Asked([.. steps.Select(step => step.Serial)], goesOn);
        }

        private static DateTimeOffset GoesOn(MovingStep step, DateTimeOffset asked) => asked.AddHours(step.NoticeHours ?? 0);
    }
}
