using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// The build shop issues a draft: it gets its number, its pieces get their serials and their steps, and the shops on its route may see it.
/// From then on lines and route stay as they are.
/// </summary>
public static class IssueWorkOrder
{
    public sealed record Request(Guid Id, int RowVersion);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Issued(string Number, int Pieces) : Outcome;

        public sealed record AlreadyIssued(string Number, string? By, DateTimeOffset At) : Outcome;

        /// <summary>Somebody edited the draft since it was read.</summary>
        public sealed record Stale : Outcome;

        public sealed record NothingToMake : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Issue = """
            update work_order
            set number = 'WO-' || written(next_number(owner_id, 'work order'), 4), issued_at = @now, issued_by = @PersonId, row_version = row_version + 1
            where id = @Id returning number
            """;

        private const string Lines = """
            select id, quantity from work_order_line where work_order_id = @Id order by ordinal
            """;

        private sealed record Line(Guid Id, int Quantity);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.WriteWorkOrder, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (order.IssuedAt is { } at)
                return new Outcome.AlreadyIssued(order.Number, order.IssuedBy, at);
            if (order.RowVersion != request.RowVersion)
                return new Outcome.Stale();
            var lines = await work.RowsAsync<Line>(Lines, new { request.Id });
            if (lines.Count == 0 || order.ClosedAt is not null)
                return new Outcome.NothingToMake();

            var now = clock.GetUtcNow();
            var number = await work.ValueAsync<string>(Issue, new { request.Id, now, actor.PersonId });
            foreach (var line in lines)
                await ChooseSampling.DrawAsync(work, order.Id, line.Id, await MakePieces.OnLineAsync(work, order.OwnerId, order.Id, line.Id, line.Quantity, now));
            await work.ExecuteAsync("select share_work_order(@Id)", new { request.Id });
            // A joint that waited for a piece of these lines has one now.
            await OrderHead.RecheckBuildsAsync(work, request.Id, now);
            var pieces = lines.Sum(line => line.Quantity);
            await Tell.OrganisationAsync(
                work,
                now,
                "work order issued",
                order.ShopId,
                ["fabricator"],
                order.Id,
                piece: null,
                $"Work order {number} from {order.OwnerName}",
                $"{order.OwnerName} asks you to make {pieces} {(pieces == 1 ? "piece" : "pieces")}. Accept or decline it, then give a promise date for each line.",
                $"/orders/{order.Id}");
            await work.CommitAsync();
            return new Outcome.Issued(number!, pieces);
        }
    }
}
