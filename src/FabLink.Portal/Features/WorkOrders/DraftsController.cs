using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Writing a work order, until it is issued.</summary>
[Route("orders")]
public sealed class DraftsController : Controller
{
    [HttpGet("new")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> New(Actor actor, [FromServices] DraftWorkOrder.Handler draft, CancellationToken cancellation)
    {
        var choices = await draft.ChoicesAsync(actor, cancellation);
        return View("Form", new OrderFormPage(OrderForm.New(choices), choices));
    }

    [HttpPost("new")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> New(
        Actor actor,
        OrderForm form,
        [FromForm(Name = "do")] string? button,
        [FromServices] DraftWorkOrder.Handler draft,
        [FromServices] CreateWorkOrder.Validator validator,
        [FromServices] CreateWorkOrder.Handler create,
        CancellationToken cancellation)
    {
        var choices = await draft.ChoicesAsync(actor, cancellation);
        if (form.After(button, choices) is { } changed)
            return Again(changed, choices);
        if (!this.Passes(validator, form.ToCreate()))
            return Wrong(form, choices);
        switch (await create.HandleAsync(actor, form.ToCreate(), cancellation))
        {
            case CreateWorkOrder.Outcome.Created created:
                this.Say("The draft is saved. Look it over, then issue it.");
                return Redirect($"/orders/{created.Id}");
            case CreateWorkOrder.Outcome.NotThere stranger:
                ModelState.AddModelError(stranger.Field, stranger.Sentence);
                return Wrong(form, choices);
            default:
                return Forbid();
        }
    }

    [HttpGet("{id:guid}/edit")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] DraftWorkOrder.Handler draft, CancellationToken cancellation) =>
        await draft.OpenAsync(actor, id, cancellation) is { } form
            ? View("Form", new OrderFormPage(form, await draft.ChoicesAsync(actor, cancellation)))
            : NotFound();

    [HttpPost("{id:guid}/edit")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> Edit(
        Actor actor,
        Guid id,
        OrderForm form,
        [FromForm(Name = "do")] string? button,
        [FromServices] DraftWorkOrder.Handler draft,
        [FromServices] EditWorkOrder.Validator validator,
        [FromServices] EditWorkOrder.Handler edit,
        CancellationToken cancellation)
    {
        var choices = await draft.ChoicesAsync(actor, cancellation);
        // What was issued meanwhile is no draft any more: who typed into it is told, and keeps what was typed.
        if (await draft.OpenAsync(actor, id, cancellation) is not null)
        {
            if (form.After(button, choices) is { } changed)
                return Again(changed, choices);
            if (!this.Passes(validator, form.ToEdit(id)))
                return Wrong(form, choices);
        }

        switch (await edit.HandleAsync(actor, form.ToEdit(id), cancellation))
        {
            case EditWorkOrder.Outcome.Saved saved:
                this.Say(saved.SamplingDropped ? "The draft is saved. Its sampling has to be chosen again." : "The draft is saved.");
                return Redirect($"/orders/{id}");
            case EditWorkOrder.Outcome.Stale stale:
                ModelState.AddModelError("", $"{stale.By ?? "Somebody"} saved this draft on {When.Time(stale.At)} while you were typing. What you typed is still here and not saved; save again to replace theirs.");
                return Wrong(form with { RowVersion = stale.RowVersion }, choices);
            case EditWorkOrder.Outcome.NotThere stranger:
                ModelState.AddModelError(stranger.Field, stranger.Sentence);
                return Wrong(form, choices);
            case EditWorkOrder.Outcome.AlreadyIssued issued:
                ModelState.AddModelError("", $"{issued.By ?? "Somebody"} issued this draft as {issued.Number} on {When.Time(issued.At)} while you were typing. It stays as it was issued; what you typed is still here to copy and not saved. To order something else, cancel {issued.Number} and write a new one.");
                return Wrong(form, choices);
            case EditWorkOrder.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    [HttpGet("{id:guid}/lines/{lineId:guid}/sampling")]
    [May(Deed.ChooseSampling)]
    public async Task<IActionResult> Sampling(Actor actor, Guid id, Guid lineId, [FromServices] ChooseSampling.Handler sampling, CancellationToken cancellation) =>
        await sampling.PageAsync(actor, id, lineId, cancellation) is { } page ? View("Sampling", page) : NotFound();

    [HttpPost("{id:guid}/lines/{lineId:guid}/sampling")]
    [May(Deed.ChooseSampling)]
    public async Task<IActionResult> Sampling(Actor actor, ChooseSampling.Request request, [FromServices] ChooseSampling.Handler sampling, CancellationToken cancellation)
    {
        switch (await sampling.HandleAsync(actor, request, cancellation))
        {
            case ChooseSampling.Outcome.Saved saved:
                this.Say(saved.Plans == 0 ? "Every piece of the line is measured." : "The sampling is kept; the pieces are drawn when the order is issued.");
                return Redirect($"/orders/{request.Id}");
            case ChooseSampling.Outcome.AlreadyIssued issued:
                this.Say($"{issued.Number} is issued already and keeps its sampling.");
                return Redirect($"/orders/{request.Id}");
            case ChooseSampling.Outcome.NotOffered wrong:
                ModelState.AddModelError(wrong.Field, "This plan is not offered for so many pieces; choose another.");
                if (await sampling.PageAsync(actor, request.Id, request.LineId, cancellation) is not { } page)
                    return NotFound();
                Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
                return View("Sampling", page);
            case ChooseSampling.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    [HttpPost("{id:guid}/issue")]
    [May(Deed.WriteWorkOrder)]
    public async Task<IActionResult> Issue(Actor actor, IssueWorkOrder.Request request, [FromServices] IssueWorkOrder.Handler issue, CancellationToken cancellation)
    {
        switch (await issue.HandleAsync(actor, request, cancellation))
        {
            case IssueWorkOrder.Outcome.Issued issued:
                this.Say($"{issued.Number} is issued with {(issued.Pieces == 1 ? "1 piece" : $"{issued.Pieces} pieces")}; the shop is told.");
                break;
            case IssueWorkOrder.Outcome.AlreadyIssued issued:
                this.Say($"{issued.By ?? "Somebody"} issued {issued.Number} already on {When.Time(issued.At)}.");
                break;
            case IssueWorkOrder.Outcome.Stale:
                this.Say("Somebody changed the draft since you read it. Look it over again; it is not issued.");
                break;
            case IssueWorkOrder.Outcome.NothingToMake:
                this.Say("There is nothing to make on this draft; add a line first.");
                break;
            case IssueWorkOrder.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/orders/{request.Id}");
    }

    private ViewResult Again(OrderForm form, OrderChoices choices)
    {
        // The rows have moved: what was typed comes from the form itself, not from the names that the fields had.
        ModelState.Clear();
        return View("Form", new OrderFormPage(form, choices));
    }

    private ViewResult Wrong(OrderForm form, OrderChoices choices)
    {
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Form", new OrderFormPage(form, choices));
    }
}
