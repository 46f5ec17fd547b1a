using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Reports;

/// <summary>From a measured part to a verdict: a file with a preview, or values typed on a phone.</summary>
[Route("")]
public sealed class ReportsController : Controller
{
    [HttpGet("lines/{lineId:guid}/measure")]
    [May(Deed.SubmitReport)]
    public async Task<IActionResult> Line(Actor actor, Guid lineId, string? stage, [FromServices] MeasurePage.Handler pages, CancellationToken cancellation) =>
        await pages.LineAsync(actor, lineId, stage, cancellation) is { } page ? View("Line", page) : NotFound();

    [HttpPost("lines/{lineId:guid}/measure")]
    [May(Deed.SubmitReport)]
    [RequestSizeLimit(25_000_000)]
    public async Task<IActionResult> Upload(
        Actor actor,
        Guid lineId,
        string stage,
        bool onBehalf,
        IFormFile? file,
        [FromServices] UploadFile.Handler upload,
        [FromServices] MeasurePage.Handler pages,
        CancellationToken cancellation)
    {
        if (file is null)
        {
            ModelState.AddModelError("File", "Choose the file with the measured values, CSV or XLSX.");
        }
        else
        {
            await using var content = file.OpenReadStream();
            switch (await upload.HandleAsync(actor, new UploadFile.Request(lineId, stage ?? "", file.FileName, onBehalf), content, cancellation))
            {
                case UploadFile.Outcome.Kept kept:
                    return RedirectToAction(nameof(Preview), new { id = kept.UploadId });
                case UploadFile.Outcome.Refused refused:
                    ModelState.AddModelError("File", refused.Why);
                    break;
                case UploadFile.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }
        if (await pages.LineAsync(actor, lineId, stage, cancellation) is not { } page)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Line", page);
    }

    [HttpGet("uploads/{id:guid}")]
    [May(Deed.SubmitReport)]
    public async Task<IActionResult> Preview(Actor actor, Guid id, [FromServices] PreviewFile.Handler previews, CancellationToken cancellation) =>
        await previews.HandleAsync(actor, id, cancellation) is { } preview ? View("Preview", preview) : NotFound();

    [HttpPost("uploads/{id:guid}")]
    [May(Deed.SubmitReport)]
    public async Task<IActionResult> Submit(
        Actor actor,
        Guid id,
        string? note,
        string? calibrationReason,
        string? seen,
        [FromServices] PreviewFile.Handler previews,
        [FromServices] SubmitReport.Handler submit,
        CancellationToken cancellation)
    {
        if (await previews.HandleAsync(actor, id, cancellation) is not { } preview)
            return NotFound();
        if (!preview.Matched.MaySubmit)
        {
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return View("Preview", preview);
        }
        // As with typed values: what came since the preview may have failed what this file makes good without a word.
        ModelState.Remove(nameof(seen));
        if (seen is not null && seen != preview.Seen && preview is { IsTaken: false, Newest: { } newest })
        {
            ModelState.AddModelError("", newest.Remark);
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return View("Preview", preview);
        }
        switch (await submit.HandleAsync(actor, preview.ToRequest(note ?? "") with { CalibrationReason = calibrationReason }, cancellation))
        {
            case SubmitReport.Outcome.Accepted { Reports: [var only] } again:
                if (only.Before)
                    this.Say($"This very file was submitted for this piece and stage already; here is its report.{(again.Opened ? " Its step has begun since, so it opened the hold now." : "")}");
                return RedirectToAction(nameof(Show), new { id = only.ReportId });
            case SubmitReport.Outcome.Accepted accepted:
                this.Say(accepted.Reports.All(report => report.Before)
                    ? $"This very file was submitted already; here are its reports.{(accepted.Opened ? " Where the step has begun since, they opened the hold now." : "")}"
                    : $"{accepted.Reports.Count} reports taken: {Counted(accepted.Reports)}.");
                return RedirectToAction(nameof(Line), new { lineId = preview.Upload.LineId, stage = preview.Upload.Stage });
            case SubmitReport.Outcome.Refused refused:
                ModelState.AddModelError("", refused.Why);
                Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
                return View("Preview", preview);
            case SubmitReport.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    [HttpGet("pieces/{pieceId:guid}/measure/{stage}")]
    [May(Deed.SubmitReport)]
    public async Task<IActionResult> Typed(Actor actor, Guid pieceId, string stage, [FromServices] MeasurePage.Handler pages, CancellationToken cancellation) =>
        await pages.PieceAsync(actor, pieceId, stage, cancellation) is { } entry
            ? View("Typed", new TypedForm(entry, Guid.CreateVersion7(), Seen: SeenOf(entry)))
            : NotFound();

    [HttpPost("pieces/{pieceId:guid}/measure/{stage}")]
    [May(Deed.SubmitReport)]
    public async Task<IActionResult> Typed(
        Actor actor,
        Guid pieceId,
        string stage,
        Guid entryKey,
        string? instrument,
        string? note,
        string? calibrationReason,
        bool onBehalf,
        string? todo,
        string? looked,
        string? seen,
        [FromForm] Dictionary<string, KeepDraft.Entry> entries,
        [FromServices] MeasurePage.Handler pages,
        [FromServices] KeepDraft.Handler keep,
        [FromServices] SubmitReport.Handler submit,
        CancellationToken cancellation)
    {
        var draft = new KeepDraft.Draft(
            entries.Where(entry => entry.Value is { } value && !Filled(value).IsEmpty).ToDictionary(entry => entry.Key, entry => Filled(entry.Value)),
            (instrument ?? "").Trim(),
            note ?? "");
        if (!await keep.HandleAsync(actor, pieceId, stage, draft, cancellation)
            || await pages.PieceAsync(actor, pieceId, stage, cancellation) is not { } entry)
            return NotFound();
        if (todo == "keep")
        {
            if (Request.Headers.ContainsKey("HX-Request"))
                return PartialView("_Coarse", entry.Coarse);
            this.Say("Kept as typed. Come back to it on any device.");
            return RedirectToAction(nameof(Typed), new { pieceId, stage });
        }
        var (values, problems, odd) = TypedValues.Read(entry.Characteristics, draft);
        foreach (var problem in problems)
            ModelState.AddModelError($"Entries[{problem.Field}].Value", problem.Message);
        if (values.Count == 0 && problems.Count == 0 && !entry.NothingIsAsked)
            ModelState.AddModelError("", "There is no value yet. Type at least one.");
        // Who has seen these very remarks and submits again means what is typed.
        // So does who typed on a page from before the newest report; what came meanwhile may have failed what this makes good without a word.
        string[] overtaken = seen is not null && seen != SeenOf(entry) && entry.Newest is { } newest && newest.EntryKey != entryKey ? [newest.Remark] : [];
        var remarks = string.Join('\n', overtaken.Concat(entry.TooEarly).Concat(odd.Select(one => one.Message)));
        ModelState.Remove(nameof(looked));
        if (ModelState.IsValid && remarks.Length > 0 && remarks.ReplaceLineEndings("") != (looked ?? "").ReplaceLineEndings(""))
        {
            foreach (var early in overtaken.Concat(entry.TooEarly))
                ModelState.AddModelError("", early);
            foreach (var one in odd)
                ModelState.AddModelError($"Entries[{one.Field}].Value", one.Message);
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
            return View("Typed", new TypedForm(entry, entryKey, remarks, seen ?? SeenOf(entry)));
        }

        if (ModelState.IsValid)
        {
            var request = new SubmitReport.Request(stage, [new SubmitReport.PieceValues(pieceId, values)], null, entryKey, draft.Note, onBehalf, calibrationReason);
            switch (await submit.HandleAsync(actor, request, cancellation))
            {
                case SubmitReport.Outcome.Accepted accepted:
                    return RedirectToAction(nameof(Show), new { id = accepted.Reports[0].ReportId });
                case SubmitReport.Outcome.Refused refused:
                    ModelState.AddModelError("", refused.Why);
                    break;
                case SubmitReport.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Typed", new TypedForm(entry, entryKey, Seen: seen ?? SeenOf(entry)));
    }

    [HttpGet("reports/{id:guid}")]
    [May(Deed.SeeReports)]
    public async Task<IActionResult> Show(Actor actor, Guid id, [FromServices] ShowReport.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { } sheet ? View("Show", sheet) : NotFound();

    [HttpGet("reports/{id:guid}/file")]
    [May(Deed.SeeReports)]
    public async Task<IActionResult> OriginalFile(
        Actor actor, Guid id, [FromServices] ShowReport.Handler show, [FromServices] FileStore files, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) is { Report: { Sha256: { } sha, FileName: { } name } } && files.Holds(sha)
            ? FileDelivery.Deliver(Response, files, sha, name.EndsWith(".xlsx", StringComparison.OrdinalIgnoreCase) ? FileType.Xlsx : FileType.Text, name)
            : NotFound();

    [HttpPost("reports/{id:guid}/concession")]
    [May(Deed.OpenGate)]
    public async Task<IActionResult> Concede(
        Actor actor,
        Guid id,
        string? reason,
        DateOnly? validUntil,
        [FromServices] GrantConcession.Validator validator,
        [FromServices] GrantConcession.Handler grant,
        [FromServices] ShowReport.Handler show,
        CancellationToken cancellation)
    {
        var request = new GrantConcession.Request(id, reason, validUntil);
        if (this.Passes(validator, request))
        {
            switch (await grant.HandleAsync(actor, request, cancellation))
            {
                case GrantConcession.Outcome.Granted granted:
                    this.Say($"{granted.Serial} is released under a concession. The shop is told.");
                    return RedirectToAction(nameof(Show), new { id });
                case GrantConcession.Outcome.Refused refused:
                    ModelState.AddModelError("", refused.Why);
                    break;
                case GrantConcession.Outcome.NotAllowed:
                    return Forbid();
                default:
                    return NotFound();
            }
        }
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return View("Show", sheet with { Unsaid = reason });
    }

    /// <param name="EntryKey">Makes pressing the button twice the same as pressing it once.</param>
    /// <param name="Remarks">What looks wrong with values that are only far off; submitted once more as they are, they are taken.</param>
    /// <param name="Seen">The newest report when the page was opened.</param>
    public sealed record TypedForm(MeasurePage.Entry Entry, Guid EntryKey, string Remarks = "", string Seen = "");

    private static string SeenOf(MeasurePage.Entry entry) => entry.Newest?.Id.ToString("N") ?? "none";

    private static KeepDraft.Entry Filled(KeepDraft.Entry entry) => new(entry.Value ?? "", entry.Uncertainty ?? "", entry.Note ?? "");

    private static string Counted(IReadOnlyList<SubmitReport.Taken> reports) =>
        string.Join(", ", reports.GroupBy(report => report.Verdict).Select(group => Counted(group.Key, group.Count())));

    private static string Counted(string verdict, int reports) => (verdict, reports) switch
    {
        (_, 1) => $"1 {verdict}",
        ("conforms", _) => $"{reports} conform",
        ("does not conform", _) => $"{reports} do not conform",
        _ => $"{reports} {verdict}",
    };
}
