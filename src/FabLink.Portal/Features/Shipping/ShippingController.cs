using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Shipping;

[Route("")]
public sealed class ShippingController : Controller
{
    [HttpGet("orders/{id:guid}/ship")]
    [May(Deed.Ship)]
    public async Task<IActionResult> Ship(Actor actor, Guid id, [FromServices] ShowWorkOrder.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Ship", page) : NotFound();

    [HttpPost("orders/{id:guid}/ship")]
    [May(Deed.Ship)]
    public async Task<IActionResult> Ship(
        Actor actor,
        Guid id,
        List<Guid> pieceIds,
        string? note,
        [FromServices] ShipPieces.Validator validator,
        [FromServices] ShipPieces.Handler ship,
        [FromServices] ShowWorkOrder.Handler show,
        CancellationToken cancellation)
    {
        var request = new ShipPieces.Request(id, pieceIds, note);
        if (this.Passes(validator, request))
        {
            switch (await ship.HandleAsync(actor, request, cancellation))
            {
                case ShipPieces.Outcome.Shipped shipped:
                    this.Say($"{shipped.Number}: {Serials.Words(shipped.Serials)} shipped{(shipped.To is null ? "" : $" to {shipped.To}")}{(shipped.OnBehalfOf is null ? "" : $" on behalf of {shipped.OnBehalfOf}")}. "
                        + (shipped.StillDue == 0 ? "Nothing is due any more." : $"Still due: {shipped.StillDue}."));
                    return Redirect($"/slips/{shipped.Id}");
                case ShipPieces.Outcome.NotOpen shut:
                    this.Say($"Nothing was shipped: {shut.Why}");
                    return Redirect($"/orders/{id}");
                case ShipPieces.Outcome.AlreadyShipped gone:
                    ModelState.AddModelError(nameof(pieceIds), $"{gone.Serial} went with {gone.Number} already. Nothing was shipped now.");
                    break;
                case ShipPieces.Outcome.Refused refused:
                    ModelState.AddModelError(nameof(pieceIds), $"{refused.Serial} does not leave. {refused.Why.Sentence} Nothing was shipped.");
                    break;
                case ShipPieces.Outcome.Elsewhere away:
                    ModelState.AddModelError(nameof(pieceIds), $"{away.Serial} does not leave: {away.Where} has begun. Nothing was shipped.");
                    break;
                case ShipPieces.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }

        if (await show.HandleAsync(actor, id, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Ship", page);
    }

    [HttpGet("slips/{id:guid}")]
    [May(Deed.SeePieces)]
    public async Task<IActionResult> Slip(Actor actor, Guid id, [FromServices] ShowSlip.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Slip", page) : NotFound();
}
