using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Pieces;

/// <summary>
/// A named engineer of the build shop releases a hold that a person opens, or comes as the witness, and says why.
/// A hold that a report opens is opened by a conforming report; a piece that does not conform is released by a concession only.
/// </summary>
public static class OpenGate
{
    public sealed record Request(IReadOnlyList<Guid> StepIds, string? Reason) : IStepsChosen;

    public sealed class Validator : StepsChosenValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Reason).NotEmpty().WithMessage("Say what you saw and why it may go on.")
                .MaximumLength(2000).WithMessage("At most 2000 characters.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Opened(IReadOnlyList<string> Serials, string Kind) : Outcome;

        public sealed record AlreadyOpen(string Serial, string Kind, string How, string? By, DateTimeOffset At) : Outcome
        {
            public string Words => How switch
            {
                "report" => $"A conforming report let {Serial} go on after {Kind} already on {When.Time(At)}.",
                "notice time over" => $"{Serial} went on after {Kind} already on {When.Time(At)}: the notice time was over.",
                "concession" => $"{By ?? "Somebody"} let {Serial} go on after {Kind} under a concession already on {When.Time(At)}.",
                _ => $"{By ?? "Somebody"} released {Serial} after {Kind} already on {When.Time(At)}.",
            };
        }

        public sealed record NoGate(string Serial, string Kind) : Outcome;

        public sealed record NotStarted(string Serial, string Kind) : Outcome;

        public sealed record NotFinished(string Serial, string Kind) : Outcome;

        /// <summary>The route says that a conforming report opens this hold; without one a concession must be recorded.</summary>
        public sealed record OpensByReport(string Serial, Guid PieceId, string Stage) : Outcome;

        /// <summary>Releasing what does not conform is a concession, given on the nonconformance.</summary>
        public sealed record DoesNotConform(string Serial, string Number, Guid NonconformanceId) : Outcome;

        /// <summary>What was measured at the stage of the step proves nothing; going on with it is a concession, given on its report.</summary>
        public sealed record NotProven(string Serial, string Stage, Guid ReportId) : Outcome;

        public sealed record Refused(string Serial, RouteRefusal Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Open = """
            update piece_step set opened_at = @Now, opened_by = @PersonId, opened_how = 'person', opened_reason = @Reason, row_version = row_version + 1
            where id = @Id and opened_at is null
            """;

        private const string NotConforming = "select id, number from nonconformance where piece_id = @PieceId and closed_at is null order by opened_at limit 1";

        private const string Unproven = """
            select r.id from report r where r.piece_id = @PieceId and r.stage = @Stage and settled_verdict(@PieceId, @Stage) = 'not proven'
            order by r.submitted_at desc, r.id desc limit 1
            """;

        private sealed record Nonconformance(Guid Id, string Number);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await MovingStep.LoadAsync(work, request.StepIds) is not { } steps)
                return new Outcome.NotFound();
            foreach (var step in steps)
            {
                if (await OpenAsync(work, step, request.Reason!.Trim()) is { } stopped)
                    return stopped;
            }

            await TellTheShopAsync(work, steps, request.Reason!.Trim());
            await NextTurn.TellAsync(work, steps.Select(step => step.PieceId), clock.GetUtcNow());
            await work.CommitAsync();
            return new Outcome.Opened([.. steps.Select(step => step.Serial)], steps[0].Kind);
        }

        private async Task<Outcome?> OpenAsync(Work work, MovingStep step, string reason)
        {
            var actor = work.Actor;
            if (!actor.May(Deed.OpenGate, step.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (step.Gate == "none")
                return new Outcome.NoGate(step.Serial, step.Kind);
            if (step is { OpenedAt: { } at, OpenedHow: { } how })
                return new Outcome.AlreadyOpen(step.Serial, step.Kind, how, step.OpenedBy, at);
            if (step.StartedAt is null)
                return new Outcome.NotStarted(step.Serial, step.Kind);
            if (step.Gate == "hold" && step.FinishedAt is null)
                return new Outcome.NotFinished(step.Serial, step.Kind);
            if (await work.RowAsync<Nonconformance>(NotConforming, new { step.PieceId }) is { } open)
                return new Outcome.DoesNotConform(step.Serial, open.Number, open.Id);
            if (step.OpensBy != "report" && await work.ValueAsync<Guid?>(Unproven, new { step.PieceId, step.Stage }) is { } report)
                return new Outcome.NotProven(step.Serial, step.Stage!, report);
            if (step.OpensBy == "report")
                return new Outcome.OpensByReport(step.Serial, step.PieceId, step.Stage ?? "");
            return await step.WriteAsync(work, Open, clock.GetUtcNow(), reason) is { } why ? new Outcome.Refused(step.Serial, why) : null;
        }

        private async Task TellTheShopAsync(Work work, IReadOnlyList<MovingStep> steps, string reason)
        {
            var released = new List<(MovingStep Step, NextStep? Next)>();
            foreach (var step in steps.Where(step => step.OrganisationId != step.OwnerId))
                released.Add((step, await NextStep.AfterAsync(work, step.Id)));
            foreach (var those in released.GroupBy(each => (each.Step.WorkOrderId, each.Step.OrganisationId, each.Step.ShopId, each.Step.FinishedAt is null, each.Next), each => each.Step))
            {
                var serials = Serials.Words([.. those.Select(step => step.Serial)]);
                var one = those.Count() == 1 ? those.First() : null;
                var (order, organisation, shop, inWork, next) = those.Key;
                var (deed, toDo) = DeedOf(next, organisation, inWork, one is null ? "them" : "it");
                var ships = organisation == shop && next is not null && (next.OrganisationId == organisation ? next.Kind == "ship" : next.IsSentTo);
                await Tell.OrganisationAsync(
                    work,
                    clock.GetUtcNow(),
                    "released",
                    organisation,
                    ["fabricator", "coater"],
                    order,
                    one?.PieceId,
                    $"{serials}: released after {those.First().Kind}{deed}",
                    $"Released by {work.Actor.Name} ({work.Actor.OrganisationName}): {reason}{toDo}{(ships ? " The packing slip is written on the order." : "")}",
                    ships ? $"/orders/{order}/ship" : one is null ? "/steps" : $"/pieces/{one.PieceId}");
            }
        }

        /// <summary>What the shop does next, behind the subject and behind the body.</summary>
        private static (string Deed, string ToDo) DeedOf(NextStep? next, Guid shop, bool inWork, string them) => next switch
        {
            null => (inWork ? ", go on" : "", ""),
            _ when next.OrganisationId == shop => (next.Kind == "ship" ? $", ship {them}" : $", go on with {next.Kind}", $"\nNext is {next.Kind}, and that is yours."),
            { IsSentTo: true } => ($", send {them} to {next.Organisation}", $"\n{next.Words(them)}"),
            _ => ("", $"\n{next.Words()}"),
        };
    }
}
