using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// The build shop puts a work order away: when every piece is through its route (or was scrapped), when it was declined,
/// or while it is a draft. Drawings go back or are destroyed then.
/// </summary>
public static class CloseWorkOrder
{
    public sealed record Request(Guid Id);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Closed(string Number) : Outcome;

        public sealed record AlreadyClosed(string Number, string? By, DateTimeOffset At) : Outcome;

        public sealed record StillDue(IReadOnlyList<string> Serials) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Due = """
            select p.serial from piece p
            where p.work_order_id = @Id
              and exists (select 1 from piece_step s join route_step r on r.id = s.route_step_id
                          where s.piece_id = p.id and (s.finished_at is null or (r.gate <> 'none' and s.opened_at is null)))
              and not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake'))
            order by p.serial
            """;

        private const string Close = "update work_order set closed_at = @Now, closed_by = @PersonId, row_version = row_version + 1 where id = @Id";

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.WriteWorkOrder, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (order.ClosedAt is { } at)
                return new Outcome.AlreadyClosed(order.Number, order.ClosedBy, at);
            if (order.IsOpen && await work.RowsAsync<string>(Due, new { request.Id }) is { Count: > 0 } due)
                return new Outcome.StillDue(due);
            await work.ExecuteAsync(Close, new { request.Id, Now = clock.GetUtcNow(), actor.PersonId });
            await work.CommitAsync();
            return new Outcome.Closed(order.Number);
        }
    }
}
