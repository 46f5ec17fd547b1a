using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Notices;

[Route("notices")]
public sealed class NoticesController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeNotices)]
    public async Task<IActionResult> Index(Actor actor, bool all, int page, [FromServices] ListNotices.Handler list, CancellationToken cancellation) =>
        View(await list.HandleAsync(actor, all, page, cancellation));

    [HttpPost("{id:guid}/read")]
    [May(Deed.SeeNotices)]
    public async Task<IActionResult> Read(
        Actor actor, Guid id, [FromServices] ListNotices.Handler list, [FromServices] TimeProvider clock, CancellationToken cancellation) =>
        await list.MarkReadAsync(actor, id, clock.GetUtcNow(), cancellation) ? RedirectToAction(nameof(Index)) : NotFound();
}
