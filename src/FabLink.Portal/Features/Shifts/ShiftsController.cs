using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Shifts;

[Route("shifts")]
public sealed class ShiftsController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeShifts)]
    public async Task<IActionResult> Index(Actor actor, [FromServices] ListShifts.Handler list, CancellationToken cancellation) =>
        View(await list.HandleAsync(actor, cancellation));
}
