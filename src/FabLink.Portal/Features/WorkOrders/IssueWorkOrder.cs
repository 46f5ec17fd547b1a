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
            select l.id, l.quantity, r.part_id, l.revision_id, p.number as part_number
            from work_order_line l join revision r on r.id = l.revision_id join part p on p.id = r.part_id
            where l.work_order_id = @Id order by l.ordinal
            """;

        private const string InsertPieces = """
            insert into piece (id, owner_id, work_order_id, line_id, part_id, revision_id, serial, created_at)
            select made.id, @OwnerId, @OrderId, @LineId, @PartId, @RevisionId,
                   @PartNumber || '-' || written(next_number(@OwnerId, 'piece ' || @PartId), 3), @Now
            from unnest(@PieceIds) with ordinality made (id, n) order by made.n
            """;

        private const string Steps = "select id from route_step where line_id = @LineId";

        private const string InsertSteps = """
            insert into piece_step (id, owner_id, work_order_id, line_id, piece_id, route_step_id, ordinal, organisation_id)
            select made.id, @OwnerId, @OrderId, @LineId, made.piece_id, t.id, t.ordinal, t.organisation_id
            from unnest(@StepIds, @StepPieceIds, @RouteStepIds) made (id, piece_id, route_step_id) join route_step t on t.id = made.route_step_id
            """;

        private sealed record Line(Guid Id, int Quantity, Guid PartId, Guid RevisionId, string PartNumber);

        // A joint that waited for a piece of these lines has one now.
        private const string Recheck = """
            select ask_recheck('re-check a build', b, @now) from (select distinct build_id as b from work_order_line where work_order_id = @Id) l
            """;

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
                await MakePiecesAsync(work, order, line, now);
            await work.ExecuteAsync("select share_work_order(@Id)", new { request.Id });
            await work.ExecuteAsync(Recheck, new { request.Id, now });
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

        private static async Task MakePiecesAsync(Work work, OrderHead order, Line line, DateTimeOffset now)
        {
            var pieces = Fresh(line.Quantity, now);
            await work.ExecuteAsync(InsertPieces, new
            {
                order.OwnerId,
                OrderId = order.Id,
                LineId = line.Id,
                line.PartId,
                line.RevisionId,
                line.PartNumber,
                PieceIds = pieces,
                Now = now,
            });
            await ChooseSampling.DrawAsync(work, order.Id, line.Id, pieces);
            var route = await work.RowsAsync<Guid>(Steps, new { LineId = line.Id });
            var pairs = pieces.SelectMany(piece => route.Select(step => (Piece: piece, Step: step))).ToList();
            await work.ExecuteAsync(InsertSteps, new
            {
                order.OwnerId,
                OrderId = order.Id,
                LineId = line.Id,
                StepIds = Fresh(pairs.Count, now),
                StepPieceIds = pairs.Select(pair => pair.Piece).ToArray(),
                RouteStepIds = pairs.Select(pair => pair.Step).ToArray(),
            });
        }

        private static Guid[] Fresh(int count, DateTimeOffset now) =>
            [.. Enumerable.Range(0, count).Select(_ => Guid.CreateVersion7(now))];
    }
}
