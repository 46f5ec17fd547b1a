using System.Text.Json;
using FabLink.Portal.Features.Drawings.Import;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

[Route("revisions/{id:guid}/characteristics")]
public sealed class CharacteristicsController : Controller
{
    private const int SpareRows = 10;

    [HttpGet("")]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Edit(Actor actor, Guid id, [FromServices] ShowRevision.Handler show, CancellationToken cancellation) =>
        await show.HandleAsync(actor, id, cancellation) switch
        {
            null => NotFound(),
            { MayWrite: false } => Forbid(),
            { IsDraft: false } => Redirect($"/revisions/{id}"),
            var sheet => View("Characteristics", CharacteristicTable.Of(
                sheet, new EditCharacteristics.Request(id, sheet.Head.RowVersion, [.. Typed(sheet), .. Spare()]))),
        };

    /// <param name="more">How many empty rows to add instead of saving.</param>
    /// <param name="look">Only say what is wrong, beside each row: the table comes from a file.</param>
    // Twelve fields a row: the usual limit of 1024 fields would end at 85 rows.
    [HttpPost("")]
    [RequestFormLimits(ValueCountLimit = (EditCharacteristics.MostRows + 1) * 12)]
    [May(Deed.WriteDrawings)]
    public async Task<IActionResult> Edit(
        Actor actor,
        Guid id,
        EditCharacteristics.Request request,
        int? more,
        bool look,
        [FromServices] ShowRevision.Handler show,
        [FromServices] EditCharacteristics.Handler edit,
        CancellationToken cancellation)
    {
        request = request with { RevisionId = id, Rows = request.Rows ?? [] };
        if (await show.HandleAsync(actor, id, cancellation) is not { } sheet)
            return NotFound();
        if (more is not null)
        {
            ModelState.Clear();
            return View("Characteristics", CharacteristicTable.Of(sheet, request with { Rows = [.. request.Rows, .. Spare()] }));
        }

        if (look)
        {
            ModelState.Clear();
            return View("Characteristics", CharacteristicTable.Of(
                sheet, request with { Rows = [.. request.Rows, .. Spare()] }, CharacteristicReader.Read(request.Rows, sheet.Head.Unit, sheet.Head.GeneralTolerance).Problems));
        }

        switch (await edit.HandleAsync(actor, request, cancellation))
        {
            case EditCharacteristics.Outcome.Saved saved:
                this.Say(saved.Characteristics == 1 ? "One characteristic is saved." : $"{saved.Characteristics} characteristics are saved.");
                return Redirect($"/revisions/{id}");
            case EditCharacteristics.Outcome.Wrong wrong:
                foreach (var problem in wrong.Problems)
                    ModelState.AddModelError($"Rows[{problem.Row}].{problem.Field}", $"Row {problem.Row + 1}: {problem.Message}");
                return this.Again("Characteristics", CharacteristicTable.Of(sheet, request, wrong.Problems));
            case EditCharacteristics.Outcome.Stale stale:
                return this.Again("Characteristics", CharacteristicTable.Of(sheet, request with { RowVersion = stale.RowVersion }, stale: stale.Change));
            case EditCharacteristics.Outcome.ReleasedAlready released:
                return this.Again("Characteristics", CharacteristicTable.Of(sheet, request) with { Released = released.Change });
            case EditCharacteristics.Outcome.NotFound:
                return NotFound();
            default:
                return Forbid();
        }
    }

    private static IEnumerable<CharacteristicEntry> Typed(ShowRevision.Sheet sheet) =>
        sheet.Characteristics.Select(one => CharacteristicReader.Shortest(one, sheet.Head.Unit, sheet.Head.GeneralTolerance));

    private static IEnumerable<CharacteristicEntry> Spare() => Enumerable.Repeat(new CharacteristicEntry(), SpareRows);
}

/// <summary>The table of the page: what is typed so far and what is wrong with it.</summary>
/// <param name="Stale">Who changed the revision while this person was typing.</param>
public sealed record CharacteristicTable(
    ShowRevision.Sheet Sheet,
    EditCharacteristics.Request Request,
    ILookup<(int Row, string Field), string> Problems,
    Changed? Stale)
{
    /// <summary>It was released meanwhile: what was typed is there to copy, and can be saved no more.</summary>
    public Changed? Released { get; init; }

    /// <summary>The words of headings and what they name, for a table that is pasted with its headings.</summary>
    public static string Headings { get; } = JsonSerializer.Serialize(CharacteristicColumns.Names.ToDictionary(each => each.Key, each => each.Value.ToString()));

    public static CharacteristicTable Of(
        ShowRevision.Sheet sheet, EditCharacteristics.Request request, IReadOnlyList<EntryProblem>? problems = null, Changed? stale = null) =>
        new(sheet, request, (problems ?? []).ToLookup(problem => (problem.Row, problem.Field), problem => problem.Message), stale);
}
