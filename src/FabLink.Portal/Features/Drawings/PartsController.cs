using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

[Route("parts")]
public sealed class PartsController : Controller
{
    [HttpGet("")]
    [May(Deed.SeeDrawings)]
    public async Task<IActionResult> Index(
        Actor actor, [FromServices] ListParts.Handler list, string? find, CancellationToken cancellation, int page = 1) =>
        View("Parts", new PartsPage(find, page, await list.HandleAsync(actor, find, page, cancellation), actor.May(Deed.WriteDrawings, Relation.Own)));

    [HttpGet("new")]
    [May(Deed.WriteDrawings)]
    public IActionResult New() => View("NewPart", new CreatePart.Request(null, null));

    [HttpPost("new")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> New(
        Actor actor,
        CreatePart.Request request,
        [FromServices] CreatePart.Validator validator,
        [FromServices] CreatePart.Handler create,
        CancellationToken cancellation)
    {
        if (!this.Passes(validator, request))
            return this.Again("NewPart", request);
        switch (await create.HandleAsync(actor, request, cancellation))
        {
            case CreatePart.Outcome.Created created:
                this.Say($"{request.Numbered} is there with revision A. Now type its characteristics, or take them from a file.");
                return Redirect($"/revisions/{created.RevisionId}");
            case CreatePart.Outcome.PartNumberTaken taken:
                ModelState.AddModelError(nameof(request.Number), $"There is a part {taken.Number} already; choose another number.");
                return this.Again("NewPart", request);
            case CreatePart.Outcome.DrawingNumberTaken taken:
                ModelState.AddModelError(nameof(request.DrawingNumber), $"There is a drawing {taken.Number} already; choose another number.");
                return this.Again("NewPart", request);
            default:
                return Forbid();
        }
    }

    [HttpGet("{id:guid}")]
    [May(Deed.SeeDrawings)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowPart.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } sheet ? View("Part", sheet) : NotFound();

    [HttpGet("{id:guid}/drawings/new")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> NewDrawing(Actor actor, Guid id, [FromServices] ShowPart.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } sheet
            ? View("NewDrawing", new NewDrawingPage(sheet.Head, new CreateDrawing.Request(id, null, null)))
            : NotFound();

    [HttpPost("{id:guid}/drawings/new")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> NewDrawing(
        Actor actor,
        Guid id,
        CreateDrawing.Request request,
        [FromServices] ShowPart.Handler show,
        [FromServices] CreateDrawing.Validator validator,
        [FromServices] CreateDrawing.Handler create,
        CancellationToken cancellation)
    {
        request = request with { PartId = id };
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        if (!this.Passes(validator, request))
            return this.Again("NewDrawing", new NewDrawingPage(sheet.Head, request));
        switch (await create.HandleAsync(actor, request, cancellation))
        {
            case CreateDrawing.Outcome.Created created:
                this.Say($"Drawing {request.Number} is there with revision A.");
                return Redirect($"/revisions/{created.RevisionId}");
            case CreateDrawing.Outcome.NumberTaken taken:
                ModelState.AddModelError(nameof(request.Number), $"There is a drawing {taken.Number} already; choose another number.");
                return this.Again("NewDrawing", new NewDrawingPage(sheet.Head, request));
            case CreateDrawing.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }
}

public sealed record PartsPage(string? Find, int Page, IReadOnlyList<ListParts.Row> Rows, bool MayWrite);

public sealed record NewDrawingPage(ShowPart.Head Part, CreateDrawing.Request Request);
