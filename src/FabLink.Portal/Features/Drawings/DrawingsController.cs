using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

[Route("drawings")]
public sealed class DrawingsController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeDrawings)]
    public IActionResult Index() => Redirect("/parts");

    [HttpGet("{id:guid}/revisions/new")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> NewRevision(Actor actor, Guid id, [FromServices] ShowDrawing.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) switch
        {
            null => NotFound(),
            { DraftId: { } draft } => Redirect($"/revisions/{draft}"),
            var sheet => View("NewRevision", new NewRevisionPage(sheet, new NewRevision.Request(id, null, WithFiles: true))),
        };

    [HttpPost("{id:guid}/revisions/new")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> NewRevision(
        Actor actor,
        Guid id,
        NewRevision.Request request,
        [FromServices] ShowDrawing.Handler show,
        [FromServices] NewRevision.Validator validator,
        [FromServices] NewRevision.Handler create,
        CancellationToken cancellation)
    {
        request = request with { DrawingId = id };
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        if (!this.Passes(validator, request))
            return this.Again("NewRevision", new NewRevisionPage(sheet, request));
        switch (await create.HandleAsync(actor, request, cancellation))
        {
            case Drawings.NewRevision.Outcome.Created created:
                this.Say($"Revision {created.Letter} begins as a copy. Change it, then release it.");
                return Redirect($"/revisions/{created.RevisionId}");
            case Drawings.NewRevision.Outcome.DraftExists draft:
                this.Say($"Revision {draft.Letter} is not released yet: change this one.");
                return Redirect($"/revisions/{draft.RevisionId}");
            case Drawings.NewRevision.Outcome.NoLetterLeft:
                ModelState.AddModelError(nameof(request.Note), "After YY there is no letter left; begin a drawing with a new number.");
                return this.Again("NewRevision", new NewRevisionPage(sheet, request));
            case Drawings.NewRevision.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }
}

public sealed record NewRevisionPage(ShowDrawing.Sheet Sheet, NewRevision.Request Request);
