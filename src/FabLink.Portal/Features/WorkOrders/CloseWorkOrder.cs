using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// The build shop puts a work order away: when every piece is through its route (or was scrapped), when it was declined,
/// or while it is a draft; before that it is cancelled with a reason, and the shops on it are told. Drawings go back or are destroyed when it is closed; its shop is told.
/// </summary>
public static class CloseWorkOrder
{
    /// <param name="Reason">Only where pieces are not through yet: why it is cancelled.</param>
    public sealed record Request(Guid Id, string? Reason = null);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Closed(string Number, bool Cancelled) : Outcome;

        public sealed record AlreadyClosed(string Number, string? By, DateTimeOffset At) : Outcome;

        public sealed record StillDue(IReadOnlyList<string> Serials) : Outcome;

        /// <summary>A question waits for its answer; what is put away answers nobody.</summary>
        public sealed record StillAsked(string Number) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Due = """
            select p.serial from piece p
            where p.work_order_id = @Id
              and (not is_through(p.id) or exists (select 1 from nonconformance n where n.piece_id = p.id and n.closed_at is null))
              and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
            order by p.serial
            """;

        private const string Asked = "select exists (select 1 from question where work_order_id = @Id and answered_at is null)";

        private const string Close = "update work_order set closed_at = @Now, closed_by = @PersonId, close_reason = @Reason, row_version = row_version + 1 where id = @Id";

        private const string Others = """
            select distinct organisation_id from piece_step where work_order_id = @Id and organisation_id not in (@OwnerId, @ShopId)
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.WriteWorkOrder, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (order.ClosedAt is { } at)
                return new Outcome.AlreadyClosed(order.Number, order.ClosedBy, at);
            var due = order.IsOpen ? await work.RowsAsync<string>(Due, new { request.Id }) : [];
            var reason = request.Reason?.Trim() ?? "";
            if (due.Count > 0 && reason.Length == 0)
                return new Outcome.StillDue(due);
            if (due.Count == 0 && order.IsOpen && await work.ValueAsync<bool>(Asked, new { request.Id }))
                return new Outcome.StillAsked(order.Number);
            var now = clock.GetUtcNow();
            await work.ExecuteAsync(Close, new { request.Id, Now = now, actor.PersonId, Reason = due.Count > 0 ? reason[..Math.Min(reason.Length, 2000)] : null });
            if (due.Count > 0)
            {
                await OrderHead.RecheckBuildsAsync(work, request.Id, now);
                foreach (var shop in (await work.RowsAsync<Guid>(Others, new { request.Id, order.OwnerId, order.ShopId })).Append(order.ShopId))
                {
                    await Tell.OrganisationAsync(
                        work,
                        now,
                        "work order cancelled",
                        shop,
                        ["fabricator", "coater"],
                        order.Id,
                        piece: null,
                        shop == order.ShopId ? $"Work order {order.Number} is cancelled" : $"{Pieces.Serials.Words(due)}: cancelled by {order.OwnerName}",
                        $"{actor.Name} ({order.OwnerName}) cancelled it: {reason}\nNot through yet: {Pieces.Serials.Words(due)}. Stop work on them. "
                            + (shop == order.ShopId ? "What becomes of what is made, ask on the order." : $"What becomes of what is made, {order.OwnerName} says."),
                        shop == order.ShopId ? $"/orders/{order.Id}" : "/steps");
                }
            }

            else if (!order.IsDraft)
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "work order closed",
                    order.ShopId,
                    ["fabricator"],
                    order.Id,
                    piece: null,
                    $"Work order {order.Number} is closed",
                    $"{actor.Name} ({order.OwnerName}) closed it{(order.DeclinedAt is null ? "" : " after it was declined")}. Nothing is left to do but this: return or destroy its drawings.",
                    $"/orders/{order.Id}");
            }

            await work.CommitAsync();
            return new Outcome.Closed(order.Number, due.Count > 0);
        }
    }
}
