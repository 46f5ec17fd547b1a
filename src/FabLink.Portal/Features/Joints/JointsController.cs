using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Joints;

/// <summary>Joints of a build.</summary>
[Route("")]
public sealed class JointsController : Controller
{
    public sealed record Form(KeepJoint.Request Request, JointChoices Choices);

    [HttpGet("builds/{build:guid}/joints/new")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> New(Actor actor, Guid build, [FromServices] Database database, CancellationToken cancellation) =>
        await FormAsync(actor, new KeepJoint.Request(build, null, 0, null, null, 1, null, 1, null, null, 0.1m, null), database, cancellation) is { } form ? View("Edit", form) : NotFound();

    [HttpGet("joints/{id:guid}/edit")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] ShowJoint.Handler show, [FromServices] Database database, CancellationToken cancellation)
    {
        if (await show.HandleAsync(actor, id, cancellation) is not { Head: var head })
            return NotFound();
        var request = new KeepJoint.Request(
            head.BuildId,
            head.Id,
            head.RowVersion,
            head.Name,
            $"{head.PartId}/{head.Pattern}",
            head.Place,
            head.SurveyId is { } survey ? $"survey/{survey}" : $"{head.MatePartId}/{head.MatePattern}",
            head.MatePlace ?? 1,
            head.FilmMm * 1000,
            head.MateFilmMm * 1000,
            head.WantedMarginMm,
            head.RotationLimitDegrees == 180 ? null : head.RotationLimitDegrees);
        return await FormAsync(actor, request, database, cancellation) is { } form ? View("Edit", form) : NotFound();
    }

    [HttpPost("builds/{build:guid}/joints")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> Keep(
        Actor actor,
        Guid build,
        KeepJoint.Request request,
        [FromServices] KeepJoint.Validator validator,
        [FromServices] KeepJoint.Handler keep,
        [FromServices] Database database,
        CancellationToken cancellation)
    {
        request = request with { BuildId = build };
        if (this.Passes(validator, request))
        {
            switch (await keep.HandleAsync(actor, request, cancellation))
            {
                case KeepJoint.Outcome.Kept kept:
                    this.Say("The joint is kept and is being looked at.");
                    return Redirect($"/joints/{kept.Id}");
                case KeepJoint.Outcome.NameTaken taken:
                    ModelState.AddModelError(nameof(request.Name), $"There is a joint {taken.Name} in this build already.");
                    break;
                case KeepJoint.Outcome.Unknown unknown:
                    ModelState.AddModelError(unknown.Field, unknown.Why);
                    break;
                case KeepJoint.Outcome.Stale:
                    ModelState.AddModelError("", "Somebody else changed this joint in the meantime. What you typed stands below; open it again in another window to compare.");
                    break;
                case KeepJoint.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }

        if (await FormAsync(actor, request, database, cancellation) is not { } form)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Edit", form);
    }

    [HttpGet("joints/{id:guid}")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowJoint.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpPost("joints/{id:guid}/lift")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> Lift(
        Actor actor, Guid id, ShowJoint.LiftRequest request, [FromServices] ShowJoint.Validator validator, [FromServices] ShowJoint.Handler show, CancellationToken cancellation)
    {
        if (await show.HandleAsync(actor, id, cancellation) is not { } page)
            return NotFound();
        if (!this.Passes(validator, request))
        {
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return View("Show", page);
        }

        var serials = await show.LiftAsync(actor, id, request.Reason!, cancellation);
        if (serials is null)
            return Forbid();
        this.Say(serials.Count == 0 ? "Nothing was held by this joint any more." : $"{string.Join(", ", serials)} may go on; the shop is told.");
        return Redirect($"/joints/{id}");
    }

    [HttpPost("joints/{id:guid}/remove")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> Remove(Actor actor, Guid id, string? because, [FromServices] KeepJoint.Handler keep, [FromServices] ShowJoint.Handler show, CancellationToken cancellation)
    {
        switch (await keep.RemoveAsync(actor, id, because, cancellation))
        {
            case KeepJoint.Removal.Removed removed:
                this.Say(removed.LetGo.Count == 0 ? "The joint is out of the build." : $"The joint is out of the build; {string.Join(", ", removed.LetGo)} may go on, and the shop is told.");
                return Redirect($"/builds/{removed.BuildId}");
            case KeepJoint.Removal.Refused refused when await show.HandleAsync(actor, id, cancellation) is { } page:
                ModelState.AddModelError("Because", refused.Why);
                Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
                return View("Show", page);
            default:
                return NotFound();
        }
    }

    [HttpGet("pieces/{id:guid}/correction")]
    [May(Deed.SeePieces)]
    public async Task<IActionResult> Correction(Actor actor, Guid id, [FromServices] ShowCorrection.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } page ? View("Correction", page) : NotFound();

    private static async Task<Form?> FormAsync(Actor actor, KeepJoint.Request request, Database database, CancellationToken cancellation)
    {
        await using var work = await database.BeginAsync(actor, cancellation);
        return await JointChoices.IsBuildAsync(work, request.BuildId) ? new Form(request, await JointChoices.OfAsync(work, request.BuildId)) : null;
    }
}
