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

    /// <param name="What"><c>does not conform</c> with the nonconformance, or <c>not proven</c>.</param>
    public sealed record Wrong(string Serial, string What);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Closed">What stands after the step and is still closed, with the pieces that it stops.</param>
        /// <param name="Wrong">Those that what was measured at the stage of the step does not show to be good.</param>
        public sealed record Finished(IReadOnlyList<string> Serials, string Kind, IReadOnlyList<Gate> Closed, string? OnBehalfOf, IReadOnlyList<Wrong> Wrong) : Outcome;

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

        private const string AtItsStage = """
            select p.serial, w.what from piece_step s join piece p on p.id = s.piece_id cross join lateral wrong_at_step(s.id) w (what)
            where s.id = any(@ids) and w.what is not null order by p.serial
            """;

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

            var wrong = await work.RowsAsync<Wrong>(AtItsStage, new { ids = request.StepIds.ToArray() });
            await TellWhoIsNextAsync(work, steps);
            await work.CommitAsync();
            return new Outcome.Finished(
                [.. steps.Select(step => step.Serial)],
                steps[0].Kind,
                [
                    .. steps.Where(step => step.Gate != "none" && step.OpenedAt is null).GroupBy(step => (step.Gate, step.OpensBy, step.Stage))
                        .Select(group => new Gate(group.Key.Gate, group.Key.OpensBy, group.Key.Stage, [.. group.Select(step => step.Serial)])),
                ],
                steps[0].OnBehalf(actor) ? steps[0].OrganisationName : null,
                wrong);
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

        private async Task TellWhoIsNextAsync(Work work, IReadOnlyList<MovingStep> steps)
        {
            var now = clock.GetUtcNow();
            // What does not conform is decided, not released.
            var stopped = (await work.RowsAsync<Guid>("select piece from unnest(@pieces) piece, piece_stand(piece) s where s.nonconformance is not null", new { pieces = steps.Select(step => step.PieceId).ToArray() })).ToHashSet();
            foreach (var those in steps.Where(step => step is { Gate: "hold", OpensBy: "person", OpenedAt: null } && !stopped.Contains(step.PieceId)).GroupBy(step => (step.WorkOrderId, step.OwnerId, step.Kind)))
            {
                var serials = Serials.Words([.. those.Select(step => step.Serial)]);
                var one = those.Count() == 1 ? those.First().PieceId : (Guid?)null;
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "your turn",
                    those.Key.OwnerId,
                    ["engineer", "buyer"],
                    those.Key.WorkOrderId,
                    one,
                    $"{serials}: held after {those.Key.Kind}, release asked",
                    $"{Finished(those.Key.Kind, serials)} Nothing starts before an engineer of the build shop releases it.",
                    one is { } piece ? $"/pieces/{piece}" : $"/orders/{those.Key.WorkOrderId}");
            }

            foreach (var those in steps.GroupBy(step => step.Kind))
                await NextTurn.TellAsync(work, those.Select(step => step.PieceId), now, serials => Finished(those.Key, serials));

            string Finished(string kind, string serials) => $"{work.Actor.Name} ({work.Actor.OrganisationName}) finished {kind} of {serials}.";
        }
    }
}
