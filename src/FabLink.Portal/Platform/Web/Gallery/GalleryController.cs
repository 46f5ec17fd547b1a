using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Platform.Web.Gallery;

/// <summary>Every element and picture on two sheets, for those who build pages and for the browser tests; not there in production.</summary>
[Route("gallery")]
[AllowAnonymous]
[ApiExplorerSettings(IgnoreApi = true)]
public sealed class GalleryController(IHostEnvironment host) : Controller
{
    public sealed record Form(string? Piece, string? Stage, string? Temperature, string? Note, bool Supported, string? Rule);

    private bool Shown => host.IsDevelopment() || host.IsEnvironment("Testing");

    [HttpGet("")]
    public IActionResult Index() => Shown ? View("Gallery", new Form("RH-120-003", "tack", "", null, true, "guarded")) : NotFound();

    [HttpPost("")]
    public IActionResult Index(Form form)
    {
        if (!Shown)
            return NotFound();
        if (string.IsNullOrWhiteSpace(form.Piece))
            ModelState.AddModelError(nameof(Form.Piece), "Say which piece was measured; its serial is stamped beside the part number.");
        if (form.Temperature is { Length: > 0 } && !decimal.TryParse(form.Temperature, out _))
            ModelState.AddModelError(nameof(Form.Temperature), "Write the temperature as a number, such as 23.5.");
        if (!ModelState.IsValid)
        {
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return View("Gallery", form);
        }

        this.Say($"Report of piece {form.Piece} taken: 14 values, 2 do not conform.");
        return RedirectToAction(nameof(Index));
    }

    /// <summary>Many rows of lines: what a board costs to write and to read.</summary>
    [HttpGet("board")]
    public IActionResult Board(int rows = 40) => Shown ? View("Board", Math.Clamp(rows, 1, 5000)) : NotFound();

    [HttpGet("fault")]
    public IActionResult Fault() => Shown ? throw new InvalidOperationException("Asked for by the gallery.") : NotFound();

    [HttpGet("refusal")]
    public IActionResult Refusal() => StatusCode(Shown ? StatusCodes.Status403Forbidden : StatusCodes.Status404NotFound);
}
