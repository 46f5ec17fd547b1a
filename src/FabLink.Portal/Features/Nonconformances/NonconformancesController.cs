using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Nonconformances;

[Route("nonconformances")]
public sealed class NonconformancesController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeReports)]
    public async Task<IActionResult> Index(Actor actor, [FromServices] ShowNonconformance.Handler show, CancellationToken cancellation) =>
        View(await show.ListAsync(actor, cancellation));

    [HttpGet("{id:guid}")]
    [May(Deed.SeeReports)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowNonconformance.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpPost("{id:guid}")]
    [May(Deed.DisposeNonconformance)]
    public async Task<IActionResult> Dispose(
        Actor actor,
        Guid id,
        int rowVersion,
        string? disposition,
        string? reason,
        DateOnly? validUntil,
        string? seen,
        [FromServices] DisposeNonconformance.Validator validator,
        [FromServices] DisposeNonconformance.Handler dispose,
        [FromServices] ShowNonconformance.Handler show,
        CancellationToken cancellation)
    {
        var request = new DisposeNonconformance.Request(id, rowVersion, disposition, reason, validUntil, seen);
        if (this.Passes(validator, request))
        {
            switch (await dispose.HandleAsync(actor, request, cancellation))
            {
                case DisposeNonconformance.Outcome.Disposed done:
                    this.Say($"{done.Number}: {done.Disposition}. The shop is told.");
                    return RedirectToAction(nameof(Show), new { id });
                case DisposeNonconformance.Outcome.Stale stale:
                    ModelState.AddModelError("", $"{stale.Now} Nothing of yours was written; look at it again.");
                    break;
                case DisposeNonconformance.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }
        if (await show.HandleAsync(actor, id, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Show", page);
    }
}
