using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Chains;

/// <summary>Chains of a build.</summary>
[Route("")]
public sealed class ChainsController : Controller
{
    [HttpGet("builds/{build:guid}/chains")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Index(Actor actor, Guid build, [FromServices] ShowChains.Handler show, CancellationToken cancellation) =>
        await show.OfBuildAsync(actor, build, cancellation) is { } page ? View("Index", page) : NotFound();

    [HttpGet("chains/{id:guid}")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowChains.Handler show, CancellationToken cancellation) =>
        await show.OneAsync(actor, id, cancellation) is { } sheet ? View("Show", sheet) : NotFound();

    [HttpGet("builds/{build:guid}/chains/new")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> New(Actor actor, Guid build, [FromServices] ChainForm.Handler forms, CancellationToken cancellation) =>
        await forms.NewAsync(actor, build, cancellation) is { } form ? View("Edit", form) : NotFound();

    [HttpGet("chains/{id:guid}/edit")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] ChainForm.Handler forms, CancellationToken cancellation) =>
        await forms.EditAsync(actor, id, cancellation) is { } form ? View("Edit", form) : NotFound();

    /// <param name="more">How many empty rows to add instead of keeping it.</param>
    [HttpPost("builds/{build:guid}/chains")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Keep(
        Actor actor, Guid build, KeepChain.Request request, int? more, [FromServices] KeepChain.Handler keep, [FromServices] ChainForm.Handler forms, CancellationToken cancellation)
    {
        request = request with { BuildId = build, Links = request.Links ?? [] };
        if (more is not null)
        {
            ModelState.Clear();
            return await forms.OfAsync(actor, request with { Links = [.. request.Links, .. Enumerable.Repeat(new KeepChain.Link(), ChainForm.SpareRows)] }, cancellation) is { } longer
                ? View("Edit", longer)
                : NotFound();
        }

        Changed? stale = null;
        switch (await keep.HandleAsync(actor, request, cancellation))
        {
            case KeepOutcome.Kept kept:
                this.Say("The chain is kept. It is looked at again whenever a report touches one of its links.");
                return Redirect($"/chains/{kept.Id}");
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

    [HttpPost("chains/{id:guid}/remove")]
    [May(Deed.WriteChains)]
    public async Task<IActionResult> Remove(Actor actor, Guid id, [FromServices] KeepChain.Handler keep, CancellationToken cancellation)
    {
        if (await keep.RemoveAsync(actor, id, cancellation) is not { } build)
            return NotFound();
        this.Say("The chain is out of the build; how it stood is kept.");
        return Redirect($"/builds/{build}/chains");
    }
}
