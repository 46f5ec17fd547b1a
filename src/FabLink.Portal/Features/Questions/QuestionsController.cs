using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Questions;

[Route("")]
public sealed class QuestionsController : Controller
{
    [HttpGet("orders/{id:guid}/ask")]
    [May(Deed.AskQuestion)]
    public async Task<IActionResult> Ask(Actor actor, Guid id, string? about, [FromServices] AskForm.Handler form, CancellationToken cancellation) =>
        await form.HandleAsync(actor, id, about, cancellation) is not { } page ? NotFound() : page.Order.TakesQuestions ? View("Ask", page) : NotAsked(page.Order);

    [HttpPost("orders/{id:guid}/ask")]
    [May(Deed.AskQuestion)]
    public async Task<IActionResult> Ask(
        Actor actor,
        Guid id,
        string? about,
        string? body,
        [FromServices] AskQuestion.Validator validator,
        [FromServices] AskQuestion.Handler ask,
        [FromServices] AskForm.Handler form,
        CancellationToken cancellation)
    {
        var (revision, characteristic) = AskForm.About(about);
        var request = new AskQuestion.Request(id, revision, characteristic, body);
        if (this.Passes(validator, request))
        {
            switch (await ask.HandleAsync(actor, request, cancellation))
            {
                case AskQuestion.Outcome.Asked asked:
                    this.Say($"Asked{(asked.OnBehalfOf is null ? "" : $" on behalf of {asked.OnBehalfOf}")}. {(asked.ClockStands ? "The clock stands until there is an answer." : "You get a mail when there is an answer.")}");
                    return Redirect($"/orders/{id}#question-{asked.Id}");
                case AskQuestion.Outcome.TakesNone shut:
                    ModelState.AddModelError("", $"{shut.Why} Speak to {shut.OwnerName}.");
                    break;
                case AskQuestion.Outcome.NotOnTheOrder:
                    ModelState.AddModelError("about", "This drawing or characteristic is not on the order; choose another.");
                    break;
                case AskQuestion.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }

        if (await form.HandleAsync(actor, id, about, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Ask", page);
    }

    [HttpPost("questions/{id:guid}/answer")]
    [May(Deed.AnswerQuestion)]
    public async Task<IActionResult> Answer(
        Actor actor, Guid id, string? answer, [FromServices] AnswerQuestion.Validator validator, [FromServices] AnswerQuestion.Handler handler, CancellationToken cancellation)
    {
        var request = new AnswerQuestion.Request(id, answer);
        if (!this.Passes(validator, request))
        {
            if (await handler.OrderOfAsync(actor, id, cancellation) is not { } order)
                return NotFound();
            this.Say("Nothing was sent: write the answer first.");
            return Redirect($"/orders/{order}#question-{id}");
        }

        switch (await handler.HandleAsync(actor, request, cancellation))
        {
            case AnswerQuestion.Outcome.Answered answered:
                this.Say($"Answered; the shop is told{(answered.ClockRuns ? $" and the clock of {answered.Number} runs again" : "")}.");
                return Redirect($"/orders/{answered.WorkOrderId}#question-{id}");
            case AnswerQuestion.Outcome.AlreadyAnswered answered:
                this.Say($"{answered.By ?? "Somebody"} answered already on {When.Time(answered.At)}; yours was not sent. You typed: {request.Answer}");
                return Redirect($"/orders/{answered.WorkOrderId}#question-{id}");
            case AnswerQuestion.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    private RedirectResult NotAsked(OrderHead order)
    {
        this.Say($"{order.Shut} No question is asked on it.");
        return Redirect($"/orders/{order.Id}");
    }
}
