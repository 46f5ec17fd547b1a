using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

[Route("revisions/{id:guid}")]
public sealed class RevisionsController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeDrawings)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowRevision.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } sheet ? View("Revision", sheet) : NotFound();

    [HttpGet("edit")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] ShowRevision.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) switch
        {
            null => NotFound(),
            { MayWrite: false } => Forbid(),
            { IsDraft: false } => Redirect($"/revisions/{id}"),
            { Head: var head } => View("EditRevision", new EditRevisionPage(
                head, new EditRevision.Request(id, head.RowVersion, head.Unit, head.GeneralTolerance, head.Welded, head.Note), null)),
        };

    [HttpPost("edit")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Edit(
        Actor actor,
        Guid id,
        EditRevision.Request request,
        [FromServices] ShowRevision.Handler show,
        [FromServices] EditRevision.Validator validator,
        [FromServices] EditRevision.Handler edit,
        CancellationToken cancellation)
    {
        request = request with { RevisionId = id };
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        if (!this.Passes(validator, request))
            return this.Again("EditRevision", new EditRevisionPage(sheet.Head, request, null));
        switch (await edit.HandleAsync(actor, request, cancellation))
        {
            case EditRevision.Outcome.Saved saved:
                this.Say(saved.Changed.Count == 0
                    ? "The title block is saved."
                    : $"The title block is saved; the limits of balloon {string.Join(", ", saved.Changed)} are others now.");
                return Redirect($"/revisions/{id}");
            case EditRevision.Outcome.Unreadable unreadable:
                foreach (var problem in unreadable.Problems)
                    ModelState.AddModelError(nameof(request.GeneralTolerance), problem);
                return this.Again("EditRevision", new EditRevisionPage(sheet.Head, request, null));
            case EditRevision.Outcome.Stale stale:
                return this.Again("EditRevision", new EditRevisionPage(sheet.Head, request with { RowVersion = stale.RowVersion }, stale.Change));
            case EditRevision.Outcome.ReleasedAlready released:
                return this.WasReleased(id, released.Change);
            case EditRevision.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }

    [HttpPost("release")]
    [May(Deed.ReleaseRevision)]
    public async Task<IActionResult> Release(
        Actor actor,
        Guid id,
        ReleaseRevision.Request request,
        [FromServices] ShowRevision.Handler show,
        [FromServices] ReleaseRevision.Handler release,
        CancellationToken cancellation)
    {
        request = request with { RevisionId = id };
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        switch (await release.HandleAsync(actor, request, cancellation))
        {
            case ReleaseRevision.Outcome.Released released:
                this.Say(released.Told == 0
                    ? $"Revision {released.Letter} is released. Nothing of it changes any more."
                    : $"Revision {released.Letter} is released. {(released.Told == 1 ? "1 person" : $"{released.Told} people")} with earlier pieces in work {(released.Told == 1 ? "was" : "were")} told.");
                return Redirect($"/revisions/{id}");
            case ReleaseRevision.Outcome.NoCharacteristics:
                ModelState.AddModelError("", "There are no characteristics yet; without them nobody can say whether a piece conforms.");
                return this.Again("Revision", sheet);
            case ReleaseRevision.Outcome.Unreadable unreadable:
                foreach (var problem in unreadable.Problems)
                    ModelState.AddModelError("", problem);
                return this.Again("Revision", sheet);
            case ReleaseRevision.Outcome.AsksForGeneralTolerance:
                ModelState.AddModelError("WithoutGeneralTolerance", "The part is welded and its drawing has no general tolerance. Give it one, or confirm that it shall have none.");
                return this.Again("Revision", sheet);
            case ReleaseRevision.Outcome.Stale stale:
                ModelState.AddModelError("", $"{stale.Change.By} changed this revision on {Words.DayAndTime(stale.Change.At)}, after you opened it. Look at it again, then release it.");
                return this.Again("Revision", sheet);
            case ReleaseRevision.Outcome.ReleasedAlready released:
                return this.WasReleased(id, released.Change);
            case ReleaseRevision.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }
}

/// <param name="Stale">Who changed it while this person was typing.</param>
public sealed record EditRevisionPage(ShowRevision.Head Head, EditRevision.Request Request, Changed? Stale);
