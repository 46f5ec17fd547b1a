using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;
using Npgsql;

namespace FabLink.Portal.Features.Shipping;

/// <summary>
/// The shop sends some or all of its finished pieces with a packing slip. What is held, not done or in work at another organisation does not leave.
/// A step "ship" of the route is done by it.
/// </summary>
public static class ShipPieces
{
    public sealed record Request(Guid WorkOrderId, IReadOnlyList<Guid>? PieceIds, string? Note);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.PieceIds).NotEmpty().WithMessage("Choose the pieces that go on this packing slip.");
            RuleFor(request => request.Note).MaximumLength(2000).WithMessage("At most 2000 characters.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="StillDue">How many pieces of the order are on no packing slip yet and still with the shop.</param>
        /// <param name="To">Who does the next step of all of them, when that is not the build shop.</param>
        public sealed record Shipped(Guid Id, string Number, IReadOnlyList<string> Serials, int StillDue, string? OnBehalfOf, string? To = null) : Outcome;

        public sealed record AlreadyShipped(string Serial, string Number) : Outcome;

        public sealed record Refused(string Serial, RouteRefusal Why) : Outcome;

        /// <param name="Where">The step that another organisation has begun, and the organisation.</param>
        public sealed record Elsewhere(string Serial, string Where) : Outcome;

        /// <summary>Not accepted yet, declined, or closed.</summary>
        public sealed record NotOpen(string Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Pieces = """
            select p.id, p.serial, s.number as slip, s.number is null and left_shop_at(p.id) is not null as gone,
                   (select t.id from piece_step t join route_step r on r.id = t.route_step_id
                    where t.piece_id = p.id and r.kind = 'ship' and t.organisation_id = @ShopId and t.started_at is null order by t.ordinal limit 1) as ship_step_id
            from piece p
            left join packing_slip_piece sp on sp.piece_id = p.id left join packing_slip s on s.id = sp.packing_slip_id
            where p.work_order_id = @Id
              and (s.number is not null or not exists (select 1 from nonconformance n where n.piece_id = p.id and n.disposition in ('scrap', 'remake')))
            order by p.serial
            """;

        private const string Insert = """
            insert into packing_slip (id, work_order_id, number, note, shipped_at, shipped_by, on_behalf, to_id)
            values (@SlipId, @Id, 'PS-' || written(next_number(@OwnerId, 'packing slip'), 4), @Note, @Now, @PersonId, @OnBehalf, @ToId::uuid) returning number
            """;

        private const string InsertPiece = "insert into packing_slip_piece (packing_slip_id, piece_id, work_order_id) values (@SlipId, @PieceId, @Id)";

        private const string Ship = """
            update piece_step set started_at = @Now, started_by = @PersonId, finished_at = @Now, finished_by = @PersonId,
                   on_behalf = @OnBehalf, row_version = row_version + 1
            where id = @StepId and started_at is null
            """;

        private sealed record Piece(Guid Id, string Serial, string? Slip, bool Gone, Guid? ShipStepId);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            // The order is held, so that the same piece is never put on two slips by two people at once.
            if (await OrderHead.LockAsync(work, request.WorkOrderId) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.Ship, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!order.IsOpen || order.AcceptedAt is null)
                return new Outcome.NotOpen(order.Shut);
            var all = await work.RowsAsync<Piece>(Pieces, new { Id = order.Id, order.ShopId });
            var wanted = (request.PieceIds ?? []).ToHashSet();
            var chosen = all.Where(piece => wanted.Contains(piece.Id)).ToList();
            if (chosen.Count != wanted.Count || chosen.Count == 0)
                return new Outcome.NotFound();
            if (chosen.FirstOrDefault(piece => piece.Slip is not null) is { } gone)
                return new Outcome.AlreadyShipped(gone.Serial, gone.Slip!);

            var routes = (await PieceRoutes.OfOrderAsync(work, order.Id)).Where(piece => wanted.Contains(piece.Id)).ToList();
            if (routes.FirstOrDefault(piece => Leaving.Elsewhere(piece.Route, order.ShopId) is not null) is { } away)
                return new Outcome.Elsewhere(away.Serial, Leaving.At(Leaving.Elsewhere(away.Route, order.ShopId)!));

            var now = clock.GetUtcNow();
            var behalf = order.OnBehalf(actor);
            var to = Leaving.To(routes.Select(piece => piece.Route), order.ShopId, order.OwnerId);
            var slip = Guid.CreateVersion7(now);
            var number = await work.ValueAsync<string>(Insert, new
            {
                SlipId = slip,
                Id = order.Id,
                order.OwnerId,
                Note = request.Note?.Trim() ?? "",
                Now = now,
                actor.PersonId,
                OnBehalf = behalf,
                ToId = to?.OrganisationId,
            });
            foreach (var piece in chosen)
            {
                try
                {
                    await work.ExecuteAsync(InsertPiece, new { SlipId = slip, PieceId = piece.Id, Id = order.Id });
                    if (piece.ShipStepId is { } step)
                        await work.ExecuteAsync(Ship, new { StepId = step, Now = now, actor.PersonId, OnBehalf = behalf });
                }
                catch (PostgresException error) when (RouteRefusal.From(error) is { } why)
                {
                    return new Outcome.Refused(piece.Serial, why);
                }
            }

            var serials = chosen.Select(piece => piece.Serial).ToList();
            var due = all.Count(piece => piece is { Slip: null, Gone: false }) - chosen.Count;
            var said = Behalf.Words(actor.Name, actor.OrganisationName, behalf ? order.ShopName : null);
            await Tell.OrganisationAsync(
                work,
                now,
                "shipped",
                order.OwnerId,
                ["buyer"],
                order.Id,
                piece: null,
                $"{order.ShopName} shipped {Serials.Words(serials)}{(to is null ? "" : $" to {to.OrganisationName}")} ({number})",
                $"{said} shipped {chosen.Count} of {all.Count} pieces of {order.Number}. "
                + (due == 0 ? "Nothing is due any more." : $"Still due: {due}."),
                $"/orders/{order.Id}");
            if (to is not null)
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "shipped",
                    to.OrganisationId,
                    ["fabricator", "coater"],
                    order.Id,
                    chosen.Count == 1 ? chosen[0].Id : null,
                    $"{Serials.Words(serials)} on the way to you ({number})",
                    $"{said} shipped {Serials.Words(serials)}. Next is {to.Kind}; starting it says that they are here.",
                    $"/slips/{slip}");
            }

            // A step "ship" is finished by it.
            await NextTurn.TellAsync(work, chosen.Select(piece => piece.Id), now);
            await work.CommitAsync();
            return new Outcome.Shipped(slip, number!, serials, due, behalf ? order.ShopName : null, to?.OrganisationName);
        }
    }
}
