using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Questions;

/// <summary>The build shop answers; the clock of the order runs again and the shop is told.</summary>
public static class AnswerQuestion
{
    public sealed record Request(Guid Id, string? Answer);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator() => RuleFor(request => request.Answer)
            .NotEmpty().WithMessage("Write the answer.")
            .MaximumLength(4000).WithMessage("At most 4000 characters.");
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Answered(Guid WorkOrderId, string Number, bool ClockRuns) : Outcome;

        public sealed record AlreadyAnswered(Guid WorkOrderId, string? By, DateTimeOffset At, string Answer) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Select = """
            select q.work_order_id, q.body, q.answered_at, p.name as answered_by, q.answer, case when q.on_behalf then a.name end as asked_for_by
            from question q left join person p on p.id = q.answered_by left join person a on a.id = q.asked_by where q.id = @Id
            """;

        private const string Lock = "select 1 from question where id = @Id for update";

        private const string Update = """
            update question set answer = @Answer, answered_at = @Now, answered_by = @PersonId, row_version = row_version + 1 where id = @Id
            """;

        private sealed record Row(Guid WorkOrderId, string Body, DateTimeOffset? AnsweredAt, string? AnsweredBy, string? Answer, string? AskedForBy);

        /// <summary>The order that the question stands on; null when there is no such question for this person.</summary>
        public async Task<Guid?> OrderOfAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return (await work.RowAsync<Row>(Select, new { Id = id }))?.WorkOrderId;
        }

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            await work.ExecuteAsync(Lock, new { request.Id });
            if (await work.RowAsync<Row>(Select, new { request.Id }) is not { } question
                || await OrderHead.LoadAsync(work, question.WorkOrderId) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.AnswerQuestion, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (question.AnsweredAt is { } at)
                return new Outcome.AlreadyAnswered(order.Id, question.AnsweredBy, at, question.Answer ?? "");
            var now = clock.GetUtcNow();
            var answer = request.Answer!.Trim();
            await work.ExecuteAsync(Update, new { request.Id, Answer = answer, Now = now, actor.PersonId });
            await Tell.OrganisationAsync(
                work,
                now,
                "question answered",
                order.ShopId,
                ["fabricator"],
                order.Id,
                piece: null,
                $"{(question.AskedForBy is null ? "Your question" : "A question for you")} on {order.Number} is answered",
                $"{(question.AskedForBy is { } by ? $"{by} asked on behalf of {order.ShopName}" : "You asked")}: {question.Body}\n\n{actor.Name} answers: {answer}",
                $"/orders/{order.Id}#question-{request.Id}");
            await work.CommitAsync();
            return new Outcome.Answered(order.Id, order.Number, order.IsOpen);
        }
    }
}
