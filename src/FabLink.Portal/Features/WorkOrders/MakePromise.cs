using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// The shop says by which day the pieces of a line will be there. Every promise is kept with its reason; one later than the
/// need date is told to the buyer in the same transaction, and so is that it is in time again.
/// </summary>
public static class MakePromise
{
    public sealed record Request(Guid Id, Guid LineId, DateOnly? Date, string? Reason);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Date).NotNull().WithMessage("Give the day by which the pieces will be there.").WithinReason();
            RuleFor(request => request.Reason).MaximumLength(2000).WithMessage("At most 2000 characters.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="DaysLate">Days after the need date; 0 or less is in time.</param>
        public sealed record Promised(DateOnly Date, int DaysLate, string? OnBehalfOf) : Outcome;

        /// <summary>The promise moves to a later day, or is late from the start: that wants a reason.</summary>
        public sealed record ReasonWanted(string Sentence) : Outcome;

        public sealed record InThePast(DateOnly Today) : Outcome;

        /// <summary>The same day is promised already.</summary>
        public sealed record Unchanged(DateOnly Date) : Outcome;

        public sealed record NotOpen(string Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Line = """
            select l.ordinal, p.number as part_number, l.quantity, l.need_date,
                   (select promised_date from promise where line_id = l.id order by made_at desc, id desc limit 1) as promised
            from work_order_line l join revision r on r.id = l.revision_id join part p on p.id = r.part_id
            where l.id = @LineId and l.work_order_id = @Id
            """;

        private const string Insert = """
            insert into promise (id, work_order_id, line_id, promised_date, reason, made_at, made_by, on_behalf)
            values (@PromiseId, @Id, @LineId, @Date, @Reason, @Now, @PersonId, @OnBehalf)
            """;

        private sealed record LineRow(int Ordinal, string PartNumber, int Quantity, DateOnly NeedDate, DateOnly? Promised);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order
                || await work.RowAsync<LineRow>(Line, new { request.Id, request.LineId }) is not { } line)
                return new Outcome.NotFound();
            if (!actor.May(Deed.Promise, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!order.IsOpen)
                return new Outcome.NotOpen(order.Shut);
            var now = clock.GetUtcNow();
            var today = DateOnly.FromDateTime(now.UtcDateTime);
            var date = request.Date!.Value;
            var reason = request.Reason?.Trim() ?? "";
            if (date < today)
                return new Outcome.InThePast(today);
            if (line.Promised == date)
                return new Outcome.Unchanged(date);
            if (reason.Length == 0 && line.Promised is { } before && date > before)
                return new Outcome.ReasonWanted($"{When.Day(before)} was promised; say why it becomes {When.Day(date)}.");
            if (reason.Length == 0 && date > line.NeedDate)
                return new Outcome.ReasonWanted($"The pieces are needed on {When.Day(line.NeedDate)}; say why {When.Day(date)} is the earliest.");

            var behalf = order.OnBehalf(actor);
            var id = Guid.CreateVersion7(now);
            await work.ExecuteAsync(Insert, new { PromiseId = id, request.Id, request.LineId, Date = date, Reason = reason, Now = now, actor.PersonId, OnBehalf = behalf });
            var late = date.DayNumber - line.NeedDate.DayNumber;
            var said = Behalf.Words(actor.Name, actor.OrganisationName, behalf ? order.ShopName : null);
            if (behalf)
            {
                await OrderAnswer.TellShopAsync(
                    work, now, order, $"{line.Quantity} × {line.PartNumber} promised for {When.Day(date)}", $"{said} promised line {line.Ordinal} for {When.Day(date)}; needed on {When.Day(line.NeedDate)}.{(reason.Length == 0 ? "" : $" Reason: {reason}")}\nIf that day is wrong, change the promise.");
            }

            if (late <= 0 && line.Promised > line.NeedDate)
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "promised in time again",
                    order.OwnerId,
                    ["buyer"],
                    order.Id,
                    piece: null,
                    $"{order.Number} line {line.Ordinal}: {line.PartNumber} promised in time again",
                    $"{said} promised {line.Quantity} × {line.PartNumber} for {When.Day(date)} instead of {When.Day(line.Promised.Value)}; needed on {When.Day(line.NeedDate)}.",
                    $"/orders/{order.Id}",
                    saidOnce: $"promise {id}");
            }
            else if (late > 0)
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "promised late",
                    order.OwnerId,
                    ["buyer"],
                    order.Id,
                    piece: null,
                    $"{order.Number} line {line.Ordinal}: {line.PartNumber} promised {late} {(late == 1 ? "day" : "days")} late",
                    $"{said} promised {line.Quantity} × {line.PartNumber} for {When.Day(date)}; "
                    + $"needed on {When.Day(line.NeedDate)}. Reason: {reason}",
                    $"/orders/{order.Id}",
                    saidOnce: $"promise {id}");
            }

            await work.CommitAsync();
            return new Outcome.Promised(date, late, behalf ? order.ShopName : null);
        }
    }
}
