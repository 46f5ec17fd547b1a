using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Photos and papers kept with orders and pieces.</summary>
[Route("")]
public sealed class AttachmentsController : Controller
{
    [HttpPost("orders/{id:guid}/attach")]
    [May(Deed.MoveStep)]
    public Task<IActionResult> ToOrder(
        Actor actor, Guid id, IFormFile? file, string? about, Guid? forId, [FromServices] AttachPaper.Validator validator, [FromServices] AttachPaper.Handler attach, CancellationToken cancellation) =>
        AttachAsync(actor, new(id, null, file?.FileName, about, forId), file, $"/orders/{id}#papers", validator, attach, cancellation);

    [HttpPost("pieces/{id:guid}/attach")]
    [May(Deed.MoveStep)]
    public Task<IActionResult> ToPiece(
        Actor actor, Guid id, IFormFile? file, string? about, Guid? forId, [FromServices] AttachPaper.Validator validator, [FromServices] AttachPaper.Handler attach, CancellationToken cancellation) =>
        AttachAsync(actor, new(null, id, file?.FileName, about, forId), file, $"/pieces/{id}#papers", validator, attach, cancellation);

    [HttpGet("attachments/{id:guid}")]
    [May(Deed.SeePieces)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] FindAttachment.Handler find, [FromServices] FileStore files, CancellationToken cancellation) =>
        await find.HandleAsync(actor, id, cancellation) is { } row
            ? FileDelivery.Deliver(Response, files, row.Sha256, FileType.Of(row.FileType), row.Name, show: true)
            : NotFound();

    private async Task<IActionResult> AttachAsync(
        Actor actor, AttachPaper.Request request, IFormFile? file, string back, AttachPaper.Validator validator, AttachPaper.Handler attach, CancellationToken cancellation)
    {
        if (!this.Passes(validator, request))
        {
            if (!await attach.SeesAsync(actor, request, cancellation))
                return NotFound();
            this.Say("Nothing was attached: " + ModelState.Values.SelectMany(entry => entry.Errors).Select(error => error.ErrorMessage).First());
            return Redirect(back);
        }

        await using var content = file!.OpenReadStream();
        switch (await attach.HandleAsync(actor, request, content, cancellation))
        {
            case AttachPaper.Outcome.Attached attached:
                this.Say($"{attached.Name} is kept here.");
                return Redirect(back);
            case AttachPaper.Outcome.Refused refused:
                this.Say($"Nothing was attached: {refused.Sentence}");
                return Redirect(back);
            case AttachPaper.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }
}
