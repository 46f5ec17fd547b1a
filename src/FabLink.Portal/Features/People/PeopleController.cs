using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.People;

[Route("people")]
public sealed class PeopleController(KeepPeople.Handler keep) : Controller
{
    [HttpGet("")]
    [May(Deed.KeepPeople)]
    public async Task<IActionResult> Index(Actor actor, CancellationToken cancellation) => View("Index", await keep.ReadAsync(actor, cancellation));

    [HttpPost("")]
    [May(Deed.KeepPeople)]
    public async Task<IActionResult> Add(
        Actor actor, KeepPeople.Request request, [FromServices] KeepPeople.Validator validator, CancellationToken cancellation) =>
        this.Passes(validator, request)
            ? await AnswerAsync(actor, await keep.AddAsync(actor, request, cancellation), $"{request.Name} is here; a link to sign in is on its way.", cancellation)
            : await AgainAsync(actor, cancellation);

    [HttpPost("shops")]
    [May(Deed.TakeOnShops)]
    public async Task<IActionResult> TakeOn(
        Actor actor, KeepPeople.ShopRequest request, [FromServices] KeepPeople.ShopValidator validator, CancellationToken cancellation) =>
        this.Passes(validator, request)
            ? await AnswerAsync(actor, await keep.TakeOnAsync(actor, request, cancellation), $"{request.Shop} can be given work; {request.Name} gets a link.", cancellation)
            : await AgainAsync(actor, cancellation);

    [HttpPost("zone")]
    [May(Deed.KeepPeople)]
    public async Task<IActionResult> ReadTimesIn(
        Actor actor, KeepPeople.ZoneRequest request, [FromServices] KeepPeople.ZoneValidator validator, CancellationToken cancellation) =>
        this.Passes(validator, request)
            ? await AnswerAsync(actor, await keep.ReadTimesInAsync(actor, request, cancellation), "Times are shown so within two minutes.", cancellation)
            : await AgainAsync(actor, cancellation);

    [HttpPost("{id:guid}/leave")]
    [May(Deed.KeepPeople)]
    public async Task<IActionResult> Leave(Actor actor, Guid id, CancellationToken cancellation) =>
        await AnswerAsync(actor, await keep.LeaveAsync(actor, id, cancellation), "They are signed out within two minutes and cannot sign in again.", cancellation);

    private async Task<IActionResult> AnswerAsync(Actor actor, KeepPeople.Outcome outcome, string sentence, CancellationToken cancellation)
    {
        switch (outcome)
        {
            case KeepPeople.Outcome.Done:
                this.Say(sentence);
                return RedirectToAction(nameof(Index));
            case KeepPeople.Outcome.Taken taken:
                ModelState.AddModelError(taken.Field, taken.Sentence);
                return await AgainAsync(actor, cancellation);
            case KeepPeople.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    private async Task<IActionResult> AgainAsync(Actor actor, CancellationToken cancellation)
    {
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Index", await keep.ReadAsync(actor, cancellation));
    }
}
