using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Pieces;

/// <summary>Moving steps: of one piece from its page, of several from the order or from the list of steps given to us.</summary>
[Route("steps")]
public sealed class StepsController : Controller
{
    [HttpGet("")]
    [May(Deed.MoveStep)]
    public async Task<IActionResult> Index(Actor actor, [FromServices] ListSteps.Handler list, CancellationToken cancellation) =>
        View("Steps", await list.HandleAsync(actor, cancellation));

    [HttpPost("start")]
    [May(Deed.MoveStep)]
    public async Task<IActionResult> Start(
        Actor actor, List<Guid> stepIds, string? back, [FromServices] StartStep.Validator validator, [FromServices] StartStep.Handler start, CancellationToken cancellation)
    {
        var request = new StartStep.Request(stepIds);
        if (!this.Passes(validator, request))
            return Nothing(back);
        switch (await start.HandleAsync(actor, request, cancellation))
        {
            case StartStep.Outcome.Started started:
                return Said(back, $"{Capital(started.Kind)} of {Serials.Words(started.Serials)} is started{For(started.OnBehalfOf)}.");
            case StartStep.Outcome.AlreadyStarted started:
                return Said(back, $"{started.By ?? "Somebody"} started {started.Kind} of {started.Serial} already on {When.Time(started.At)}. Nothing was changed.");
            case StartStep.Outcome.Refused refused:
                return Said(back, $"{refused.Serial} was not started. {refused.Why.Sentence}");
            case StartStep.Outcome.NotYours other:
                return Said(back, $"{other.Serial} was not started: this step was given to {other.Organisation}.");
            case StartStep.Outcome.NotAccepted order:
                return Said(back, $"Nothing was started: {order.OrderNumber} is not accepted yet.");
            case StartStep.Outcome.OrderClosed order:
                return Said(back, $"Nothing was started: {order.OrderNumber} is closed.");
            case StartStep.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    [HttpPost("finish")]
    [May(Deed.MoveStep)]
    public async Task<IActionResult> Finish(
        Actor actor, List<Guid> stepIds, string? back, [FromServices] FinishStep.Validator validator, [FromServices] FinishStep.Handler finish, CancellationToken cancellation)
    {
        var request = new FinishStep.Request(stepIds);
        if (!this.Passes(validator, request))
            return Nothing(back);
        switch (await finish.HandleAsync(actor, request, cancellation))
        {
            case FinishStep.Outcome.Finished done:
                return Said(back, $"{Capital(done.Kind)} of {Serials.Words(done.Serials)} is done{For(done.OnBehalfOf)}." + string.Concat(done.Closed.Select(Gate)) + string.Concat(done.Wrong.Select(each => $" {each.Serial} {(each.What == "not proven" ? "is " : "")}{each.What}.")));
            case FinishStep.Outcome.AlreadyFinished done:
                return Said(back, $"{done.By ?? "Somebody"} finished {done.Kind} of {done.Serial} already on {When.Time(done.At)}. Nothing was changed.");
            case FinishStep.Outcome.NotStarted early:
                return Said(back, $"Nothing was finished: {early.Kind} of {early.Serial} has not begun.");
            case FinishStep.Outcome.Refused refused:
                return Said(back, $"{refused.Serial} was not finished. {refused.Why.Sentence}");
            case FinishStep.Outcome.NotYours other:
                return Said(back, $"{other.Serial} was not finished: this step was given to {other.Organisation}.");
            case FinishStep.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    [HttpPost("witness")]
    [May(Deed.MoveStep)]
    public async Task<IActionResult> Witness(
        Actor actor, List<Guid> stepIds, string? back, [FromServices] AskWitness.Validator validator, [FromServices] AskWitness.Handler ask, CancellationToken cancellation)
    {
        var request = new AskWitness.Request(stepIds);
        if (!this.Passes(validator, request))
            return Nothing(back);
        switch (await ask.HandleAsync(actor, request, cancellation))
        {
            case AskWitness.Outcome.Asked asked:
                return Said(back, $"A witness is invited for {Serials.Words(asked.Serials)}. It goes on by itself on {When.Time(asked.GoesOnAt)}.");
            case AskWitness.Outcome.AlreadyAsked asked:
                return Said(back, $"{asked.By ?? "Somebody"} invited a witness for {asked.Serial} already on {When.Time(asked.At)}; it goes on on {When.Time(asked.GoesOnAt)}.");
            case AskWitness.Outcome.NoWitnessPoint none:
                return Said(back, $"{Capital(none.Kind)} of {none.Serial} has no witness point; nobody is invited.");
            case AskWitness.Outcome.NotStarted early:
                return Said(back, $"{Capital(early.Kind)} of {early.Serial} has not begun; a witness is invited to work that has.");
            case AskWitness.Outcome.Refused refused:
                return Said(back, $"Nobody was invited. {refused.Why.Sentence}");
            case AskWitness.Outcome.NotYours other:
                return Said(back, $"Nobody was invited: this step of {other.Serial} was given to {other.Organisation}.");
            case AskWitness.Outcome.NotAllowed:
                return Forbid();
            default:
                return NotFound();
        }
    }

    private RedirectResult Nothing(string? back) =>
        Said(back, ModelState.Values.SelectMany(entry => entry.Errors).Select(error => error.ErrorMessage).FirstOrDefault(words => words.Length > 0) ?? "Nothing was changed.");

    private RedirectResult Said(string? back, string sentence)
    {
        this.Say(sentence);
        return Redirect(Url.IsLocalUrl(back) ? back : "/steps");
    }

    private static string Gate(FinishStep.Gate gate)
    {
        var (held, it) = (Serials.Words(gate.Serials), gate.Serials.Count == 1 ? "it" : "them");
        return gate switch
        {
            { Kind: "witness" } => $" Now invite the witness for {held}.",
            { OpensBy: "report" } => $" Held now: {held}. Measure {it} and send the report at stage {gate.Stage}.",
            _ => $" Held now: {held}, until an engineer releases {it}; the engineer is told.",
        };
    }

    private static string For(string? shop) => shop is null ? "" : $" on behalf of {shop}";

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
