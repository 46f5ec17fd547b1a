using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The build shop drafts a work order to an outside shop. Nobody else sees it before it is issued.</summary>
public static class CreateWorkOrder
{
    public sealed record Request(Guid ShopId, string? PurchaseOrderNumber, string? Note, IReadOnlyList<PlannedLine>? Lines);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.ShopId).NotEmpty().WithMessage("Choose the shop that makes the parts.");
            RuleFor(request => request.PurchaseOrderNumber).MaximumLength(60).WithMessage("At most 60 characters.");
            RuleFor(request => request.Note).MaximumLength(4000).WithMessage("At most 4000 characters.");
            RuleFor(request => request.Lines).NotEmpty().WithMessage("A work order needs at least one line.")
                .Must(lines => lines is null || lines.Count <= 50).WithMessage("At most 50 lines; write a second work order.");
            RuleForEach(request => request.Lines).SetValidator(new PlannedLine.Validator());
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Created(Guid Id) : Outcome;

        /// <summary>Something named in the request is not there for this build shop.</summary>
        public sealed record NotThere(string Field, string Sentence) : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        // A draft has no number of the running series yet: numbers are given when an order is issued, so that the series has no holes.
        private const string Insert = """
            insert into work_order (id, owner_id, shop_id, number, purchase_order_number, note, created_at, created_by)
            values (@Id, @OrganisationId, @ShopId, 'draft ' || right(@Id::text, 12), @PurchaseOrderNumber, @Note, @Now, @PersonId)
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteWorkOrder, Relation.Own))
                return new Outcome.NotAllowed();
            var now = clock.GetUtcNow();
            var lines = request.Lines ?? [];
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await DraftLines.StrangerAsync(work, request.ShopId, lines) is { } stranger)
                return new Outcome.NotThere(stranger.Field, stranger.Sentence);
            var id = Guid.CreateVersion7(now);
            await work.ExecuteAsync(Insert, new
            {
                Id = id,
                actor.OrganisationId,
                request.ShopId,
                PurchaseOrderNumber = request.PurchaseOrderNumber?.Trim() ?? "",
                Note = request.Note?.Trim() ?? "",
                Now = now,
                actor.PersonId,
            });
            await DraftLines.WriteAsync(work, now, id, request.ShopId, lines);
            await work.CommitAsync();
            return new Outcome.Created(id);
        }
    }
}
