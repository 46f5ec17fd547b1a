using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Tables;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

[Route("revisions/{id:guid}/characteristics/import")]
public sealed class ImportController : Controller
{
    [HttpGet("")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Import(Actor actor, Guid id, [FromServices] ShowRevision.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) switch
        {
            null => NotFound(),
            { MayWrite: false } => Forbid(),
            { IsDraft: false } => Redirect($"/revisions/{id}"),
            var sheet => View("Import", new ImportPage(sheet, null, false)),
        };

    [HttpPost("")]
    [RequestSizeLimit(SheetLimits.FileBytes + 100_000)]
    [RequestFormLimits(ValueLengthLimit = SheetLimits.FileBytes, MultipartBodyLengthLimit = SheetLimits.FileBytes + 100_000)]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Import(
        Actor actor,
        Guid id,
        IFormFile? file,
        string? pasted,
        bool onlyThese,
        [FromServices] ImportCharacteristics.Handler import,
        [FromServices] ShowRevision.Handler show,
        CancellationToken cancellation)
    {
        if (file is null && string.IsNullOrWhiteSpace(pasted))
        {
            ModelState.AddModelError(nameof(file), "Choose a file, or paste the table below.");
            return await show.HandleAsync(actor, id, cancellation) is { } sheet
                ? this.Again("Import", new ImportPage(sheet, pasted, onlyThese))
                : NotFound();
        }

        await using var content = file?.OpenReadStream();
        var request = new ImportCharacteristics.Request(id, content, file?.FileName, pasted, onlyThese);
        switch (await import.HandleAsync(actor, request, cancellation))
        {
            case ImportCharacteristics.Outcome.Read read:
                return View("ImportPreview", read.Preview);
            case ImportCharacteristics.Outcome.ReleasedAlready released:
                return this.WasReleased(id, released.Change);
            case ImportCharacteristics.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }
}

public sealed record ImportPage(ShowRevision.Sheet Sheet, string? Pasted, bool OnlyThese);
