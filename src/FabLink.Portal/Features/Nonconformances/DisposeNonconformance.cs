using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.Nonconformances;

/// <summary>
/// The engineer decides what becomes of a piece that does not conform. <c>Rework</c> and <c>repair</c> keep it held until it is measured again and conforms;
/// what fails again is decided again. <c>Use as is</c> releases it under a concession that names the serial; <c>remake</c> and <c>scrap</c> end it.
/// </summary>
public static class DisposeNonconformance
{
    public static IReadOnlyList<string> Dispositions { get; } = ["rework", "repair", "use as is", "remake", "scrap"];

    /// <param name="ValidUntil">Of the concession; empty: until the piece is worn out.</param>
    /// <param name="Seen">What whoever decides has looked at, <see cref="ShowNonconformance.Page.Seen"/>; null: whatever there is.</param>
    public sealed record Request(Guid Id, int RowVersion, string? Disposition, string? Reason, DateOnly? ValidUntil, string? Seen = null)
    {
        /// <summary>Using something that does not conform needs a concession (ISO 9000, 3.12.5).</summary>
        public bool NeedsConcession => Disposition is "use as is";
    }

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator(TimeProvider clock)
        {
            RuleFor(request => request.ValidUntil).NotOver(clock);
            RuleFor(request => request.Disposition).Must(word => Dispositions.Contains(word)).WithMessage("Choose what becomes of the piece.");
            RuleFor(request => request.Reason).NotEmpty().WithMessage("Say why; whoever reads it in five years must understand it.").MaximumLength(4000);
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Disposed(string Number, string Disposition) : Outcome;

        /// <summary>Somebody else was faster.</summary>
        public sealed record Stale(string Now) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Dispose = """
            update nonconformance set disposition = @Disposition, disposition_reason = @Reason, disposed_at = @Now, disposed_by = @PersonId,
                   closed_at = case when @Closes then @Now end, closed_by = case when @Closes then @PersonId end, row_version = row_version + 1
            where id = @Id and row_version = @RowVersion and closed_at is null
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await ShowNonconformance.HeadAsync(work, request.Id) is not { } head)
                return new Outcome.NotFound();
            if (!actor.May(Deed.DisposeNonconformance, actor.RelationTo(head.OwnerId, head.ShopId)))
                return new Outcome.NotAllowed();
            await work.ExecuteAsync("select pg_advisory_xact_lock(hashtextextended(@PieceId::text, 0))", new { head.PieceId });
            if (await PieceRoutes.EndedAsync(work, head.PieceId) is { } ended)
                return new Outcome.Stale($"{head.Serial} is {ended}: nothing more is decided on it.");
            if (request.Disposition == "remake" && head.OrderClosed)
                return new Outcome.Stale($"{head.OrderNumber ?? "Its order"} is closed: no piece is made anew on it. Scrap it, and order anew what is needed.");
            // A decision is about what was looked at: a concession would cover what came meanwhile as well.
            if (request.Seen is { } seen && head.ClosedAt is null && await ShowNonconformance.Handler.SeenAsync(work, head) != seen)
                return new Outcome.Stale($"What is decided has changed in the meantime: a later report at stage {head.Stage} came, or more is asked there. It stands above.");
            var now = clock.GetUtcNow();
            var args = new
            {
                request.Id,
                request.RowVersion,
                request.Disposition,
                Reason = request.Reason!.Trim(),
                Now = now,
                actor.PersonId,
                Closes = request.NeedsConcession,
            };
            if (await work.ExecuteAsync(Dispose, args) == 0)
            {
                var found = await ShowNonconformance.HeadAsync(work, request.Id);
                return new Outcome.Stale(found!.ClosedAt is null
                    ? $"{found.DisposedBy} decided “{found.Disposition}” in the meantime."
                    : $"It was closed by {found.ClosedBy} in the meantime.");
            }
            if (request.NeedsConcession)
                await GrantConcession.RecordAsync(work, new(head.OwnerId, head.WorkOrderId, head.PieceId, head.Stage, args.Reason, request.ValidUntil, head.Id), now);
            var anew = request.Disposition == "remake" ? await MakeAnewAsync(work, head, now) : null;
            await TellAsync(work, head, request, anew, now);
            await NextTurn.TellAsync(work, [head.PieceId], now);
            await work.CommitAsync();
            return new Outcome.Disposed(head.Number, request.Disposition!);
        }

        /// <summary>One more piece of the same line, in the sample if the old one was; answers its serial.</summary>
        private static async Task<string?> MakeAnewAsync(Work work, ShowNonconformance.Head head, DateTimeOffset now)
        {
            const string Line = "select line_id from piece where id = @PieceId";
            const string Sample = """
                insert into line_sample_piece (line_id, class, piece_id, work_order_id)
                select line_id, class, @piece, work_order_id from line_sample_piece where piece_id = @PieceId
                """;
            // Its joints look at the place again.
            const string Recheck = "select ask_recheck('re-check a build', build_id, @now) from work_order_line where id = @lineId";
            var lineId = await work.ValueAsync<Guid>(Line, new { head.PieceId });
            var piece = (await MakePieces.OnLineAsync(work, head.OwnerId, head.WorkOrderId, lineId, 1, now, head.PieceId))[0];
            await work.ExecuteAsync(Sample, new { piece, head.PieceId });
            await work.ExecuteAsync(Recheck, new { lineId, now });
            return await work.ValueAsync<string>("select serial from piece where id = @piece", new { piece });
        }

        private static async Task TellAsync(Work work, ShowNonconformance.Head head, Request request, string? anew, DateTimeOffset now)
        {
            // The order is short by one, or longer by one: the buyer has to know.
            if (request.Disposition is "scrap" or "remake")
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "nonconformance decided",
                    head.OwnerId,
                    ["buyer"],
                    head.WorkOrderId,
                    head.PieceId,
                    $"{head.Number} on {head.Serial}: {request.Disposition}",
                    $"{work.Actor.Name} decided: {request.Disposition}. {request.Reason!.Trim()}\n{(anew is null ? "Nothing takes its place on the order: order anew what is needed." : $"{anew} takes its place on the line; its promise stands for it too.")}",
                    $"/orders/{head.WorkOrderId}");
            }

            if (head.ShopId is not { } shop)
                return;
            // The shop of the order, and whoever has the piece or found it at the stage of its own step.
            const string Concerned = """
                select distinct s.organisation_id from piece_step s join route_step r on r.id = s.route_step_id
                where s.piece_id = @PieceId and s.organisation_id not in (@OwnerId, @shop) and (r.stage = @Stage or s.started_at is not null and s.finished_at is null)
                """;
            // Whoever makes it conform is told so, and the others who it is.
            var piece = (await PieceRoutes.OfPieceAsync(work, head.PieceId))!;
            var maker = request.Disposition is "rework" or "repair" ? piece.WhoseTurn : null;
            var concerned = (await work.RowsAsync<Guid>(Concerned, new { head.PieceId, head.OwnerId, shop, head.Stage })).Append(shop);
            foreach (var organisation in maker is null ? concerned : concerned.Append(maker.Id).Distinct())
            {
                var theirs = organisation == maker?.Id;
                // A shop that has only a step knows the build shop and no other.
                var who = maker is not null && (organisation == shop || maker.Id == head.OwnerId) ? maker.Name : "Another shop";
                var consequence = request.Disposition switch
                {
                    "rework" => $"{(theirs ? "Make it conform and measure it again" : $"{who} makes it conform and measures it again")}; a conforming report closes the nonconformance{(piece.Route.IsReleasedByPerson(head.Stage) ? $", and an engineer of {piece.Owner?.Name ?? "the build shop"} releases the hold" : " and opens the hold")}.",
                    "use as is" => $"It is released under a concession for this serial{(request.ValidUntil is { } until ? $", valid until {LocalTime.Day(until)}" : "")}. {GrantConcession.Onward(piece, organisation, shop)}",
                    "repair" => $"{(theirs ? "Repair it as described and measure it again" : $"{who} repairs it as described and measures it again")}; unless it conforms then, the engineer decides whether it is used as repaired.",
                    "remake" => $"This piece is not used; {anew} takes its place on the line.",
                    _ => "This piece is scrapped.",
                };
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "nonconformance decided",
                    organisation,
                    organisation == head.OwnerId ? ["engineer", "buyer"] : ["fabricator", "coater"],
                    head.WorkOrderId,
                    head.PieceId,
                    $"{head.Number} on {head.Serial}: {request.Disposition}",
                    $"{work.Actor.Name} decided: {request.Disposition}. {request.Reason!.Trim()}\n{consequence}",
                    $"/pieces/{head.PieceId}");
            }
        }
    }
}
