using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>Somebody begins a step of one piece, or the same step of several pieces at once: all of them, or none.</summary>
public static class StartStep
{
    public sealed record Request(IReadOnlyList<Guid> StepIds) : IStepsChosen;

    public sealed class Validator : StepsChosenValidator<Request>;

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Started(IReadOnlyList<string> Serials, string Kind, string? OnBehalfOf) : Outcome;

        public sealed record AlreadyStarted(string Serial, string Kind, string? By, DateTimeOffset At) : Outcome;

        public sealed record Refused(string Serial, RouteRefusal Why) : Outcome;

        public sealed record NotYours(string Serial, string Organisation) : Outcome;

        public sealed record NotAccepted(string OrderNumber) : Outcome;

        public sealed record OrderClosed(string OrderNumber) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Start = """
            update piece_step set started_at = @Now, started_by = @PersonId, on_behalf = on_behalf or @OnBehalf, row_version = row_version + 1
            where id = @Id and started_at is null
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await MovingStep.LoadAsync(work, request.StepIds) is not { } steps)
                return new Outcome.NotFound();
            foreach (var step in steps)
            {
                if (await StartAsync(work, step) is { } stopped)
                    return stopped;
            }

            await work.CommitAsync();
            return new Outcome.Started(
                [.. steps.Select(step => step.Serial)],
                steps[0].Kind,
                steps[0].OnBehalf(actor) ? steps[0].OrganisationName : null);
        }

        private async Task<Outcome?> StartAsync(Work work, MovingStep step)
        {
            var actor = work.Actor;
            if (!actor.May(Deed.MoveStep, step.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!step.MovedBy(actor))
                return new Outcome.NotYours(step.Serial, step.OrganisationName);
            if (step.StartedAt is { } at)
                return new Outcome.AlreadyStarted(step.Serial, step.Kind, step.StartedBy, at);
            if (step is { OrderNumber: { } number, AcceptedAt: null })
                return new Outcome.NotAccepted(number);
            if (step is { OrderNumber: { } closed, ClosedAt: not null, Ended: not "cancelled" })
                return new Outcome.OrderClosed(closed);
            return await step.WriteAsync(work, Start, clock.GetUtcNow()) is { } why ? new Outcome.Refused(step.Serial, why) : null;
        }
    }
}
