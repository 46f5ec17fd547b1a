using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Reading work orders, and what a shop says about them (or the build shop on its behalf).</summary>
[Route("orders")]
public sealed class WorkOrdersController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeWorkOrders)]
    public async Task<IActionResult> Index(Actor actor, ListWorkOrders.Request request, [FromServices] ListWorkOrders.Handler list, CancellationToken cancellation) =>
        View("Index", await list.HandleAsync(actor, request, cancellation));

    [HttpGet("{id:guid}")]
    [May(Deed.SeeWorkOrders)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowWorkOrder.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpPost("{id:guid}/accept")]
    [May(Deed.AnswerWorkOrder)]
    public async Task<IActionResult> Accept(Actor actor, Guid id, [FromServices] AcceptWorkOrder.Handler accept, CancellationToken cancellation)
    {
        switch (await accept.HandleAsync(actor, new(id), cancellation))
        {
            case OrderAnswer.Given accepted:
                this.Say($"{accepted.Number} is accepted{For(accepted.OnBehalfOf)}. Now give a promise date for each line.");
                break;
            case OrderAnswer.AlreadyAccepted accepted:
                this.Say($"{accepted.By ?? "Somebody"} accepted {accepted.Number} already on {When.Time(accepted.At)}.");
                break;
            case OrderAnswer.AlreadyDeclined declined:
                this.Say($"{declined.By ?? "Somebody"} declined {declined.Number} on {When.Time(declined.At)}; it is not accepted.");
                break;
            case OrderAnswer.NotOpen shut:
                this.Say($"Nothing was accepted: {shut.Why}");
                break;
            case OrderAnswer.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/orders/{id}");
    }

    [HttpGet("{id:guid}/decline")]
    [May(Deed.AnswerWorkOrder)]
    public async Task<IActionResult> Decline(Actor actor, Guid id, [FromServices] ShowWorkOrder.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Decline", page) : NotFound();

    [HttpPost("{id:guid}/decline")]
    [May(Deed.AnswerWorkOrder)]
    public async Task<IActionResult> Decline(
        Actor actor,
        DeclineWorkOrder.Request request,
        [FromServices] DeclineWorkOrder.Validator validator,
        [FromServices] DeclineWorkOrder.Handler decline,
        [FromServices] ShowWorkOrder.Handler show,
        CancellationToken cancellation)
    {
        if (!this.Passes(validator, request))
            return await WrongAsync("Decline", actor, request.Id, show, cancellation);
        switch (await decline.HandleAsync(actor, request, cancellation))
        {
            case OrderAnswer.Given declined:
                this.Say($"{declined.Number} is declined{For(declined.OnBehalfOf)}; the buyer is told why.");
                break;
            case OrderAnswer.AlreadyAccepted accepted:
                this.Say($"{accepted.By ?? "Somebody"} accepted {accepted.Number} on {When.Time(accepted.At)}; it is not declined. Ask a question instead.");
                break;
            case OrderAnswer.AlreadyDeclined declined:
                this.Say($"{declined.By ?? "Somebody"} declined {declined.Number} already on {When.Time(declined.At)}.");
                break;
            case OrderAnswer.NotOpen shut:
                this.Say($"Nothing was declined: {shut.Why}");
                break;
            case OrderAnswer.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/orders/{request.Id}");
    }

    [HttpGet("{id:guid}/lines/{lineId:guid}/promise")]
    [May(Deed.Promise)]
    public async Task<IActionResult> Promise(Actor actor, Guid id, Guid lineId, [FromServices] ShowWorkOrder.Handler show, CancellationToken cancellation) =>
        await PromisePageAsync(actor, id, lineId, show, cancellation) is { } page ? View("Promise", page) : NotFound();

    [HttpPost("{id:guid}/lines/{lineId:guid}/promise")]
    [May(Deed.Promise)]
    public async Task<IActionResult> Promise(
        Actor actor,
        MakePromise.Request request,
        [FromServices] MakePromise.Validator validator,
        [FromServices] MakePromise.Handler promise,
        [FromServices] ShowWorkOrder.Handler show,
        CancellationToken cancellation)
    {
        if (this.Passes(validator, request))
        {
            switch (await promise.HandleAsync(actor, request, cancellation))
            {
                case MakePromise.Outcome.Promised promised:
                    this.Say($"Promised for {When.Day(promised.Date)}{For(promised.OnBehalfOf)}."
                        + (promised.DaysLate > 0 ? $" That is {(promised.DaysLate == 1 ? "1 day" : $"{promised.DaysLate} days")} after the need date; the buyer is told." : ""));
                    return Redirect($"/orders/{request.Id}");
                case MakePromise.Outcome.Unchanged same:
                    this.Say($"{When.Day(same.Date)} is promised already; nothing was changed.");
                    return Redirect($"/orders/{request.Id}");
                case MakePromise.Outcome.NotOpen shut:
                    this.Say($"Nothing was promised: {shut.Why}");
                    return Redirect($"/orders/{request.Id}");
                case MakePromise.Outcome.ReasonWanted wanted:
                    ModelState.AddModelError(nameof(request.Reason), wanted.Sentence);
                    break;
                case MakePromise.Outcome.InThePast past:
                    ModelState.AddModelError(nameof(request.Date), $"Today is {When.Day(past.Today)}; give a day that is still to come.");
                    break;
                case MakePromise.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }

        if (await PromisePageAsync(actor, request.Id, request.LineId, show, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Promise", page);
    }

    [HttpPost("{id:guid}/close")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> Close(Actor actor, Guid id, string? reason, [FromServices] CloseWorkOrder.Handler close, CancellationToken cancellation)
    {
        switch (await close.HandleAsync(actor, new(id, reason), cancellation))
        {
            case CloseWorkOrder.Outcome.Closed closed:
                this.Say(closed.Cancelled ? $"{closed.Number} is cancelled; the shops on it are told." : $"{closed.Number} is closed.");
                break;
            case CloseWorkOrder.Outcome.AlreadyClosed closed:
                this.Say($"{closed.By ?? "Somebody"} closed {closed.Number} already on {When.Time(closed.At)}.");
                break;
            case CloseWorkOrder.Outcome.StillDue due:
                this.Say($"Not closed: {Pieces.Serials.Words(due.Serials)} {(due.Serials.Count == 1 ? "is" : "are")} not through the route yet. To cancel the order, say why.");
                break;
            case CloseWorkOrder.Outcome.StillAsked asked:
                this.Say($"Not closed: a question of {asked.Number} waits for its answer. Answer it first.");
                break;
            case CloseWorkOrder.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/orders/{id}");
    }

    private static string For(string? shop) => shop is null ? "" : $" on behalf of {shop}";

    private static async Task<PromisePage?> PromisePageAsync(Actor actor, Guid id, Guid lineId, ShowWorkOrder.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page && page.Lines.FirstOrDefault(line => line.Id == lineId) is { } line
            ? new PromisePage(page, line)
            : null;

    private async Task<IActionResult> WrongAsync(string view, Actor actor, Guid id, ShowWorkOrder.Handler show, CancellationToken cancellation)
    {
        if (await show.HandleAsync(actor, id, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View(view, page);
    }
}

/// <summary>One line of an order and what was promised for it.</summary>
public sealed record PromisePage(ShowWorkOrder.Page Order, ShowWorkOrder.Line Line);
