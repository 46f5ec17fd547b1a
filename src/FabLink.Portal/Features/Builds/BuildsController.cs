using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Builds;

[Route("builds")]
public sealed class BuildsController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Index(Actor actor, [FromServices] ListBuilds.Handler list, CancellationToken cancellation) =>
        View(await list.HandleAsync(actor, cancellation));

    [HttpGet("{id:guid}")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowBuild.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpGet("new")]
    [May(Deed.WriteBuilds)]
    public IActionResult New() => View(new CreateBuild.Request("", ""));

    [HttpPost("new")]
    [May(Deed.WriteBuilds)]
    public async Task<IActionResult> New(
        Actor actor,
        CreateBuild.Request request,
        [FromServices] CreateBuild.Validator validator,
        [FromServices] CreateBuild.Handler create,
        CancellationToken cancellation)
    {
        if (!this.Passes(validator, request))
            return View(request);
        switch (await create.HandleAsync(actor, request, cancellation))
        {
            case CreateBuild.Outcome.Created:
                this.Say($"Build {request.Number} is there. Now give it work orders.");
                return RedirectToAction(nameof(Index));
            case CreateBuild.Outcome.NumberTaken taken:
                ModelState.AddModelError(nameof(request.Number), $"There is a build {taken.Number} already; choose another number.");
                return View(request);
            default:
                return Forbid();
        }
    }
}
