using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>
/// Somebody finishes a step of one piece or of several at once: all of them, or none.
/// Whoever is next - the engineer at a hold, the shop with the next step - is told in the same transaction.
/// </summary>
public static class FinishStep
{
    public sealed record Request(IReadOnlyList<Guid> StepIds) : IStepsChosen;

    public sealed class Validator : StepsChosenValidator<Request>;

    /// <param name="Kind"><c>hold</c> or <c>witness</c>.</param>
    public sealed record Gate(string Kind, string? OpensBy, string? Stage, IReadOnlyList<string> Serials);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Closed">What stands after the step and is still closed, with the pieces that it stops.</param>
        public sealed record Finished(IReadOnlyList<string> Serials, string Kind, IReadOnlyList<Gate> Closed, string? OnBehalfOf) : Outcome;

        public sealed record NotStarted(string Serial, string Kind) : Outcome;

        public sealed record AlreadyFinished(string Serial, string Kind, string? By, DateTimeOffset At) : Outcome;

        public sealed record Refused(string Serial, RouteRefusal Why) : Outcome;

        public sealed record NotYours(string Serial, string Organisation) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Finish = """
            update piece_step set finished_at = @Now, finished_by = @PersonId, on_behalf = on_behalf or @OnBehalf, row_version = row_version + 1
            where id = @Id and finished_at is null
            """;

        private const string Next = "select kind, organisation_id from step_after(@Id)";

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await MovingStep.LoadAsync(work, request.StepIds) is not { } steps)
                return new Outcome.NotFound();
            foreach (var step in steps)
            {
                if (await FinishAsync(work, step) is { } stopped)
                    return stopped;
            }

            await TellWhoIsNextAsync(work, steps);
            await work.CommitAsync();
            return new Outcome.Finished(
                [.. steps.Select(step => step.Serial)],
                steps[0].Kind,
                [
                    .. steps.Where(step => step.Gate != "none" && step.OpenedAt is null).GroupBy(step => (step.Gate, step.OpensBy, step.Stage))
                        .Select(group => new Gate(group.Key.Gate, group.Key.OpensBy, group.Key.Stage, [.. group.Select(step => step.Serial)])),
                ],
                steps[0].OnBehalf(actor) ? steps[0].OrganisationName : null);
        }

        private async Task<Outcome?> FinishAsync(Work work, MovingStep step)
        {
            var actor = work.Actor;
            if (!actor.May(Deed.MoveStep, step.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!step.MovedBy(actor))
                return new Outcome.NotYours(step.Serial, step.OrganisationName);
            if (step.FinishedAt is { } at)
                return new Outcome.AlreadyFinished(step.Serial, step.Kind, step.FinishedBy, at);
            if (step.StartedAt is null)
                return new Outcome.NotStarted(step.Serial, step.Kind);
            return await step.WriteAsync(work, Finish, clock.GetUtcNow()) is { } why ? new Outcome.Refused(step.Serial, why) : null;
        }

        private sealed record After(string Kind, Guid OrganisationId);

        private sealed record Turn(Guid WorkOrderId, Guid OrganisationId, string What, string ToDo);

        private async Task TellWhoIsNextAsync(Work work, IReadOnlyList<MovingStep> steps)
        {
            var turns = new Dictionary<Turn, List<MovingStep>>();
            foreach (var step in steps)
            {
                if (await TurnAfterAsync(work, step) is not { } turn)
                    continue;
                if (!turns.TryGetValue(turn, out var those))
                    turns[turn] = those = [];
                those.Add(step);
            }

            foreach (var (turn, those) in turns)
            {
                var serials = Serials.Words([.. those.Select(step => step.Serial)]);
                var owner = those[0].OwnerId == turn.OrganisationId;
                await Tell.OrganisationAsync(
                    work,
                    clock.GetUtcNow(),
                    "your turn",
                    turn.OrganisationId,
                    owner ? ["engineer", "buyer"] : ["fabricator", "coater"],
                    turn.WorkOrderId,
                    those.Count == 1 ? those[0].PieceId : null,
                    $"{serials}: {turn.What}",
                    $"{work.Actor.Name} ({work.Actor.OrganisationName}) finished {those[0].Kind} of {serials}. {turn.ToDo}",
                    those.Count == 1 ? $"/pieces/{those[0].PieceId}" : owner ? $"/orders/{turn.WorkOrderId}" : "/steps");
            }
        }

        private static async Task<Turn?> TurnAfterAsync(Work work, MovingStep step)
        {
            if (step is { Gate: "hold", OpenedAt: null })
            {
                return step.OpensBy == "person"
                    ? new Turn(step.WorkOrderId, step.OwnerId, $"held after {step.Kind}, release asked", "Nothing starts before an engineer of the build shop releases it.")
                    : null;
            }

            if (step is { Gate: "witness", OpenedAt: null })
                return null;
            return await work.RowAsync<After>(Next, new { step.Id }) is { } next && next.OrganisationId != step.OrganisationId
                ? new Turn(step.WorkOrderId, next.OrganisationId, $"ready for {next.Kind}", $"Next is {next.Kind}, and that is yours.")
                : null;
        }
    }
}
