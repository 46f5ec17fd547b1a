using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Board;

[Route("board")]
public sealed class BoardController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Index(Actor actor, ShowBoard.Filter filter, [FromServices] ShowBoard.Handler board, CancellationToken cancellation) =>
        View(await board.HandleAsync(actor, filter, cancellation));
}
