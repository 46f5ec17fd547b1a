using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

public sealed class RevisionFilesController : Controller
{
    private const long MostBytes = 400_000_000;

    [HttpGet("files/revision/{file:guid}")]
    [May(Deed.SeeDrawings)]
    public async Task<IActionResult> Open(
        Actor actor, Guid file, bool show, [FromServices] FindFile.Handler find, [FromServices] FileStore store, CancellationToken cancellation) =>
        await find.HandleAsync(actor, file, cancellation) is { } row && store.Holds(row.Sha256)
            ? FileDelivery.Deliver(Response, store, row.Sha256, FileType.Of(row.FileType), row.Name, show)
            : NotFound();

    [HttpPost("revisions/{id:guid}/files")]
    [RequestSizeLimit(MostBytes)]
    [RequestFormLimits(MultipartBodyLengthLimit = MostBytes)]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Add(
        Actor actor,
        Guid id,
        IReadOnlyList<IFormFile>? files,
        string? purpose,
        [FromServices] AddFiles.Handler add,
        [FromServices] ShowRevision.Handler show,
        CancellationToken cancellation)
    {
        var incoming = (files ?? []).Select(file => new AddFiles.Incoming(file.FileName, file.OpenReadStream(), purpose)).ToList();
        switch (await add.HandleAsync(actor, new AddFiles.Request(id, incoming), cancellation))
        {
            case AddFiles.Outcome.Done done:
                this.Say((done.Added, done.Already) switch
                {
                    (0, _) => "These files were there already.",
                    (1, 0) => "One file is added.",
                    (_, 0) => $"{done.Added} files are added.",
                    _ => $"{done.Added} files are added; {done.Already} were there already.",
                });
                return Redirect($"/revisions/{id}");
            case AddFiles.Outcome.Refused refused:
                foreach (var message in refused.Messages)
                    ModelState.AddModelError("files", message);
                return await show.HandleAsync(actor, id, cancellation) is { } sheet ? this.Again("Revision", sheet) : NotFound();
            case AddFiles.Outcome.ReleasedAlready released:
                return this.WasReleased(id, released.Change);
            case AddFiles.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }

    [HttpPost("revisions/{id:guid}/files/{file:guid}/remove")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Remove(Actor actor, Guid id, Guid file, [FromServices] RemoveFile.Handler remove, CancellationToken cancellation)
    {
        switch (await remove.HandleAsync(actor, new RemoveFile.Request(id, file), cancellation))
        {
            case RemoveFile.Outcome.Removed removed:
                this.Say($"{removed.Name} is taken out.");
                return Redirect($"/revisions/{id}");
            case RemoveFile.Outcome.ReleasedAlready released:
                return this.WasReleased(id, released.Change);
            case RemoveFile.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }
}
