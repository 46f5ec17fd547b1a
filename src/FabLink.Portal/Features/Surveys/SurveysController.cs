using FabLink.Portal.Features.Builds;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Tables;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Surveys;

/// <summary>What was measured on the machine before the parts are made.</summary>
[Route("")]
public sealed class SurveysController : Controller
{
    /// <param name="Problems">Of the file that was not kept.</param>
    public sealed record Form(ShowBuild.Page Build, KeepSurvey.Request Request, IReadOnlyList<TableProblem> Problems);

    [HttpGet("builds/{build:guid}/surveys/new")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> New(Actor actor, Guid build, [FromServices] ShowBuild.Handler builds, CancellationToken cancellation) =>
        await builds.HandleAsync(actor, build, cancellation) is { } page ? View("New", new Form(page, new KeepSurvey.Request(build, null, null, null), [])) : NotFound();

    [HttpPost("builds/{build:guid}/surveys/new")]
    [May(Deed.WriteJoints)]
    [RequestSizeLimit(25_000_000)]
    public async Task<IActionResult> New(
        Actor actor,
        Guid build,
        KeepSurvey.Request request,
        IFormFile? file,
        [FromServices] KeepSurvey.Validator validator,
        [FromServices] KeepSurvey.Handler keep,
        [FromServices] ShowBuild.Handler builds,
        CancellationToken cancellation)
    {
        request = request with { BuildId = build };
        IReadOnlyList<TableProblem> problems = [];
        if (file is null)
            ModelState.AddModelError("File", "Choose the file with the points, CSV or XLSX.");
        if (this.Passes(validator, request) && file is not null)
        {
            await using var content = file.OpenReadStream();
            switch (await keep.HandleAsync(actor, request, content, file.FileName, cancellation))
            {
                case KeepSurvey.Outcome.Kept kept:
                    this.Say($"{kept.Points} points are kept{(kept.Replaced ? " in the place of the older survey of this name" : "")}; joints that stand on them are being looked at.");
                    return Redirect($"/surveys/{kept.Id}");
                case KeepSurvey.Outcome.Wrong wrong:
                    problems = wrong.Problems;
                    ModelState.AddModelError("File", "The file cannot be taken as it is; what is wrong stands below.");
                    break;
                case KeepSurvey.Outcome.Refused refused:
                    ModelState.AddModelError("File", refused.Why);
                    break;
                case KeepSurvey.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }

        if (await builds.HandleAsync(actor, build, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("New", new Form(page, request, problems));
    }

    [HttpGet("surveys/{id:guid}")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Show(Actor actor, Guid id, string? pattern, [FromServices] ShowSurvey.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, pattern, cancellation) is { } page ? View("Show", page) : NotFound();

    [HttpGet("surveys/{id:guid}/file")]
    [May(Deed.SeeBuilds)]
    public async Task<IActionResult> Download(Actor actor, Guid id, [FromServices] ShowSurvey.Handler show, [FromServices] FileStore files, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, null, cancellation) is { Head: var head } && files.Holds(head.Sha256)
            ? File(files.OpenRead(head.Sha256), "application/octet-stream", head.FileName)
            : NotFound();

    [HttpPost("surveys/{id:guid}/correct")]
    [May(Deed.WriteJoints)]
    public async Task<IActionResult> Correct(Actor actor, Guid id, string? pattern, [FromServices] CorrectNominals.Handler correct, CancellationToken cancellation)
    {
        switch (await correct.HandleAsync(actor, new CorrectNominals.Request(id, pattern ?? ""), cancellation))
        {
            case CorrectNominals.Outcome.Made made:
                this.Say($"Revision {made.Letter} is begun with {made.Changed} {(made.Changed == 1 ? "corrected row" : "corrected rows")}. Look at it and release it; nothing is ordered with it before.");
                return Redirect($"/revisions/{made.RevisionId}");
            case CorrectNominals.Outcome.NothingToChange:
                this.Say("Every hole stands where the drawing has it already.");
                break;
            case CorrectNominals.Outcome.Refused refused:
                this.Say(refused.Why);
                break;
            case CorrectNominals.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }

        return Redirect($"/surveys/{id}?pattern={Uri.EscapeDataString(pattern ?? "")}");
    }
}
