using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Somebody of the build shop changes a draft. What was issued is no draft any more.</summary>
public static class EditWorkOrder
{
    public sealed record Request(Guid Id, int RowVersion, Guid ShopId, string? PurchaseOrderNumber, string? Note, IReadOnlyList<PlannedLine>? Lines);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator(CreateWorkOrder.Validator draft) => RuleFor(request => request).Custom((request, context) =>
        {
            foreach (var failure in draft.Validate(new CreateWorkOrder.Request(request.ShopId, request.PurchaseOrderNumber, request.Note, request.Lines)).Errors)
                context.AddFailure(failure);
        });
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="SamplingDropped">A line that was sampled orders something else now, and its sampling went with it.</param>
        public sealed record Saved(int RowVersion, bool SamplingDropped) : Outcome;

        /// <summary>Somebody else saved the draft since it was read; what was typed here is not lost, but not saved either.</summary>
        public sealed record Stale(string? By, DateTimeOffset At, int RowVersion) : Outcome;

        /// <summary>Issued meanwhile; what was typed is not lost, but not saved either.</summary>
        public sealed record AlreadyIssued(string Number, string? By, DateTimeOffset At) : Outcome;

        public sealed record NotThere(string Field, string Sentence) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Update = """
            update work_order set shop_id = @ShopId, purchase_order_number = @PurchaseOrderNumber, note = @Note, row_version = row_version + 1
            where id = @Id
            """;

        private const string LastChange = """
            select p.name as by, a.at from audit a left join person p on p.id = a.person_id
            where a.table_name = 'work_order' and a.row_key = @Id::text order by a.id desc limit 1
            """;

        private sealed record Change(string? By, DateTimeOffset At);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.WriteWorkOrder, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (order.IssuedAt is { } issued)
                return new Outcome.AlreadyIssued(order.Number, order.IssuedBy, issued);
            if (order.RowVersion != request.RowVersion)
            {
                var change = await work.RowAsync<Change>(LastChange, new { request.Id });
                return new Outcome.Stale(change?.By, change?.At ?? order.CreatedAt, order.RowVersion);
            }

            var lines = request.Lines ?? [];
            if (await DraftLines.StrangerAsync(work, request.ShopId, lines) is { } stranger)
                return new Outcome.NotThere(stranger.Field, stranger.Sentence);
            await work.ExecuteAsync(Update, new
            {
                request.Id,
                request.ShopId,
                PurchaseOrderNumber = request.PurchaseOrderNumber?.Trim() ?? "",
                Note = request.Note?.Trim() ?? "",
            });
            var sampled = (await ChooseSampling.OfOrderAsync(work, request.Id)).Count;
            await DraftLines.WriteAsync(work, clock.GetUtcNow(), request.Id, request.ShopId, lines);
            var dropped = (await ChooseSampling.OfOrderAsync(work, request.Id)).Count < sampled;
            await work.CommitAsync();
            return new Outcome.Saved(order.RowVersion + 1, dropped);
        }
    }
}
