using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Pairs;

/// <summary>Matched pairs of a build; they are listed with its chains.</summary>
[Route("")]
public sealed class PairsController : Controller
{
    [HttpGet("builds/{build:guid}/pairs/new")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> New(Actor actor, Guid build, [FromServices] PairForm.Handler forms, CancellationToken cancellation) =>
        await forms.OfAsync(actor, new KeepPair.Request(build, null, 0, "", "", "", "", "guarded"), cancellation) is { } form ? View("Edit", form) : NotFound();

    [HttpGet("pairs/{id:guid}/edit")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] PairForm.Handler forms, CancellationToken cancellation) =>
        await forms.EditAsync(actor, id, cancellation) is { } form ? View("Edit", form) : NotFound();

    [HttpPost("builds/{build:guid}/pairs")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Keep(
        Actor actor, Guid build, KeepPair.Request request, [FromServices] KeepPair.Handler keep, [FromServices] PairForm.Handler forms, CancellationToken cancellation)
    {
        request = request with { BuildId = build };
        Changed? stale = null;
        switch (await keep.HandleAsync(actor, request, cancellation))
        {
            case KeepOutcome.Kept:
                this.Say("The pair is kept. It is judged as soon as both are measured.");
                return Redirect($"/builds/{build}/chains");
            case KeepOutcome.Wrong wrong:
                foreach (var problem in wrong.Problems)
                    ModelState.AddModelError(problem.Field, problem.Message);
                break;
            case KeepOutcome.Stale changed:
                (stale, request) = (changed.Change, request with { RowVersion = changed.RowVersion });
                ModelState.Remove(nameof(request.RowVersion));
                break;
            case KeepOutcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return await forms.OfAsync(actor, request, cancellation) is { } form ? this.Again("Edit", form with { Stale = stale }) : NotFound();
    }

    [HttpPost("pairs/{id:guid}/remove")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Remove(Actor actor, Guid id, [FromServices] KeepPair.Handler keep, CancellationToken cancellation)
    {
        if (await keep.RemoveAsync(actor, id, cancellation) is not { } build)
            return NotFound();
        this.Say("The pair is out of the build.");
        return Redirect($"/builds/{build}/chains");
    }
}
