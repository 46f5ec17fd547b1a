using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Instruments;

[Route("instruments")]
public sealed class InstrumentsController : Controller
{
    public sealed record Page(IReadOnlyCollection<InstrumentBook.Row> Instruments, DateOnly Today);

    [HttpGet("")]
    [May(Deed.KeepInstruments)]
    public async Task<IActionResult> Index(Actor actor, [FromServices] Database database, [FromServices] TimeProvider clock, CancellationToken cancellation)
    {
        await using var work = await database.BeginAsync(actor, cancellation);
        return View(new Page((await InstrumentBook.OfAsync(work)).All, DateOnly.FromDateTime(clock.GetUtcNow().UtcDateTime)));
    }

    [HttpGet("new")]
    [May(Deed.KeepInstruments)]
    public IActionResult New() => View("Edit", new KeepInstrument.Request(null, 0, "", "caliper", "mm", 0.01m, 0.03m, 0, null));

    [HttpGet("{id:guid}")]
    [May(Deed.KeepInstruments)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] Database database, CancellationToken cancellation)
    {
        await using var work = await database.BeginAsync(actor, cancellation);
        return (await InstrumentBook.OfAsync(work)).All.FirstOrDefault(row => row.Id == id) is { } row
            ? View("Edit", new KeepInstrument.Request(
                row.Id, row.RowVersion, row.Name, row.Kind, row.Unit, row.Resolution, row.Uncertainty, row.UncertaintyPerMetre, row.CalibrationDue))
            : NotFound();
    }

    [HttpPost("")]
    [May(Deed.KeepInstruments)]
    public async Task<IActionResult> Keep(
        Actor actor,
        KeepInstrument.Request request,
        [FromServices] KeepInstrument.Validator validator,
        [FromServices] KeepInstrument.Handler keep,
        CancellationToken cancellation)
    {
        if (this.Passes(validator, request))
        {
            switch (await keep.HandleAsync(actor, request, cancellation))
            {
                case KeepInstrument.Outcome.Kept kept:
                    this.Say($"{kept.Name} is in the book.");
                    return RedirectToAction(nameof(Index));
                case KeepInstrument.Outcome.NameTaken taken:
                    ModelState.AddModelError(nameof(request.Name), $"There is a {taken.Name} already; mark this one differently.");
                    break;
                case KeepInstrument.Outcome.Stale:
                    ModelState.AddModelError("", "Somebody else changed it in the meantime. What you typed stands below; open it again in another window to compare.");
                    break;
                case KeepInstrument.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Edit", request);
    }

    [HttpPost("{id:guid}/withdraw")]
    [May(Deed.KeepInstruments)]
    public async Task<IActionResult> Withdraw(Actor actor, Guid id, [FromServices] KeepInstrument.Handler keep, CancellationToken cancellation)
    {
        switch (await keep.WithdrawAsync(actor, id, cancellation))
        {
            case KeepInstrument.Outcome.Kept:
                this.Say("It is out of use. Reports that name it stay as they are.");
                return RedirectToAction(nameof(Index));
            case KeepInstrument.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }
}
