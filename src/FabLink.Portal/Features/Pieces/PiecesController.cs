using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The page of one piece, and its release by an engineer.</summary>
[Route("pieces/{id:guid}")]
public sealed class PiecesController : Controller
{
    [HttpGet("")]
    [May(Deed.SeePieces)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowPiece.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpGet("release")]
    [May(Deed.OpenGate)]
    public async Task<IActionResult> Release(Actor actor, Guid id, [FromServices] ShowPiece.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Release", page) : NotFound();

    [HttpPost("release")]
    [May(Deed.OpenGate)]
    public async Task<IActionResult> Release(
        Actor actor,
        Guid id,
        Guid stepId,
        string? reason,
        [FromServices] OpenGate.Validator validator,
        [FromServices] OpenGate.Handler open,
        [FromServices] ShowPiece.Handler show,
        CancellationToken cancellation)
    {
        var request = new OpenGate.Request([stepId], reason);
        if (!this.Passes(validator, request))
            return await AgainAsync(actor, id, show, cancellation);

        switch (await open.HandleAsync(actor, request, cancellation))
        {
            case OpenGate.Outcome.Opened opened:
                this.Say($"{Serials.Words(opened.Serials)} is released after {opened.Kind}; the shop is told.");
                break;
            case OpenGate.Outcome.AlreadyOpen already:
                ModelState.AddModelError("", already.Words);
                return await AgainAsync(actor, id, show, cancellation);
            case OpenGate.Outcome.NoGate none:
                this.Say($"Nothing holds {none.Serial} after {none.Kind}.");
                break;
            case OpenGate.Outcome.NotStarted early:
                this.Say($"Not released: {early.Kind} of {early.Serial} has not begun.");
                break;
            case OpenGate.Outcome.NotFinished early:
                this.Say($"Not released: {early.Kind} of {early.Serial} is not finished.");
                break;
            case OpenGate.Outcome.OpensByReport report:
                this.Say($"Not released: the route says that a conforming report at stage {report.Stage} opens this hold of {report.Serial}.");
                break;
            case OpenGate.Outcome.DoesNotConform bad:
                this.Say($"Not released: {bad.Serial} does not conform. Decide on nonconformance {bad.Number}; to use it all the same, record a concession there.");
                return Redirect($"/nonconformances/{bad.NonconformanceId}");
            case OpenGate.Outcome.NotProven unproven:
                this.Say($"Not released: what was measured of {unproven.Serial} at stage {unproven.Stage} is not proven. To go on with it all the same, record a concession here.");
                return Redirect($"/reports/{unproven.ReportId}");
            case OpenGate.Outcome.Refused refused:
                this.Say($"{refused.Serial} was not released. {refused.Why.Sentence}");
                break;
            case OpenGate.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/pieces/{id}");
    }

    /// <summary>The form once more with what was typed.</summary>
    private async Task<IActionResult> AgainAsync(Actor actor, Guid id, ShowPiece.Handler show, CancellationToken cancellation)
    {
        if (await show.HandleAsync(actor, id, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Release", page);
    }
}
