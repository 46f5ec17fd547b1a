using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Pieces;

/// <summary>What a person can do to let a piece go on.</summary>
public enum Move
{
    None,
    AcceptOrder,
    Start,
    Finish,
    Measure,
    InviteWitness,
    Release,
    SeeNonconformance,

    /// <summary>To the correction sheet.</summary>
    Correct,
}

/// <summary>What is true of a piece, what is to be done next, and whether that is for the person who looks.</summary>
/// <param name="Move">The one big button; <see cref="Move.None"/> when it is somebody else's turn.</param>
/// <param name="OnBehalfOf">The organisation for which the build shop would do it, or null.</param>
public sealed record NextMove(string Headline, string ToDo, Tone Tone, Move Move, StepFacts? Step, string? OnBehalfOf)
{
    /// <summary>The portal itself is at it; a page that shows this asks again.</summary>
    public bool IsLookedAt { get; private init; }

    /// <summary>A joint of the piece does not bolt up.</summary>
    public bool HeldByJoint { get; private init; }

    /// <summary>What is in work may be ended although something stops the piece.</summary>
    public bool MayFinish { get; private init; }

    /// <summary>Where it is measured next; the stage of the step unless something failed elsewhere.</summary>
    public string? Stage { get; private init; } = Step?.Stage;

    /// <param name="ownerName">The build shop.</param>
    /// <param name="relation">How the person's organisation stands to the order.</param>
    /// <param name="accepted">The shop took the order on; a process shop cannot know, and its steps come later anyway.</param>
    /// <param name="before">What a process shop's next step waits for, in words; null when it does not wait.</param>
    /// <param name="withoutSlip">The next step is the first elsewhere, and no packing slip says that the piece was sent there.</param>
    /// <param name="taken">Somebody else's step after this shop's took the piece as it is, and it is through.</param>
    /// <param name="after">What comes after the steps of this shop, when they are done; null when nothing does or when it has begun.</param>
    public static NextMove Of(PieceOnRoute piece, Actor actor, Relation relation, string ownerName, bool accepted, string? before, bool withoutSlip = false, bool taken = false, NextStep? after = null)
    {
        var route = piece.Route;
        // What a process shop found itself, or what ends the piece, goes before what it waits for.
        var failed = route.OpenNonconformance is not null && (relation != Relation.Process || route.Steps.Any(each => each.Stage == route.FailedStage));
        if (!route.IsOver && (route.Current is null || route.Current.State == StepState.Finished && !failed))
        {
            var open = taken ? "" : NotShown(route);
            return new(
                (relation == Relation.Process ? $"{piece.Serial}: your steps are done" : $"{piece.Serial} is through its route") + (taken ? "" : Behind(route)),
                Joined(after is not null ? after.Words() : open.Length == 0 ? "Nothing is left to do." : "", open),
                open.Length == 0 ? Tone.Good : Tone.Plain,
                Move.None,
                null,
                null);
        }

        var step = route.Current ?? route.Steps[^1];
        var doing = (failed && route.Decided is not null ? piece.WhoseTurn : null) ?? new Whose(step.OrganisationId, step.OrganisationName ?? "another shop");
        var doer = doing.Name;
        var mine = actor.OrganisationId == doing.Id;
        var moves = (mine || relation == Relation.Owner) && actor.May(Deed.MoveStep, relation);
        var behalf = mine || relation != Relation.Owner ? null : doer;
        var releases = actor.May(Deed.OpenGate, relation);
        var inWork = step.State is StepState.InWork or StepState.AtOutsideProcess;
        if (before is not null && !failed && !route.IsOver)
            return new($"Not your turn yet: {before}", $"You are told when {piece.Serial} is ready for {step.Kind}.", Tone.Plain, Move.None, step, null);
        return (route.Stop, step.State) switch
        {
            _ when route.Ended is { } ended => new(
                $"{piece.Serial} is {PieceRoute.OverWords(ended)}",
                ended switch
                {
                    "cancelled" => $"{ownerName} cancelled its order: {WorkOrders.OrderStanding.Sentence(route.Why!)} Nothing more is done with it; what becomes of what is made, {ownerName} says.",
                    "remake" => "Nothing more is done with this one; a new piece of the line takes its place.",
                    _ => "Nothing more is done with it.",
                } + (piece.Shipment is { } gone && gone.IsNotThereYet(route)
                    ? $" It went with {gone.Number} {(gone.ToId == actor.OrganisationId ? "to you" : $"to {gone.To}")} on {LocalTime.Day(gone.At)} and still arrives."
                    : ""),
                Tone.Stop,
                Move.None,
                step,
                null),
            _ when route.OrderStop == OrderStop.Declined => new(
                $"The order of {piece.Serial} is declined",
                $"{piece.Shop?.Name} says why: {WorkOrders.OrderStanding.Sentence(route.Why ?? "")} {ownerName} closes it and writes a new one; nothing of this one starts.",
                Tone.Stop,
                Move.None,
                step,
                null),
            _ when failed && route.Decided is not null => new(
                $"{piece.Serial} is to be {route.Decided}ed",
                $"{ownerName} decided on {route.OpenNonconformance}: {route.Decided}. "
                    + (route.Decided == "repair"
                        ? $"{doer} repairs it and measures again at stage {route.FailedStage}; unless it conforms then, {ownerName} decides whether it is used as repaired."
                        : $"{doer} makes it conform and measures again at stage {route.FailedStage}; then {(route.IsReleasedByPerson(route.FailedStage) ? $"an engineer of {ownerName} releases it" : "it goes on by itself")}."),
                Tone.Stop,
                route.MayMeasure(actor, relation, route.FailedStage) ? Move.Measure : Move.None,
                step,
                behalf)
            {
                Stage = route.FailedStage,
                MayFinish = inWork && moves && doing.Id == step.OrganisationId,
            },
            _ when failed => new(
                $"{piece.Serial} does not conform: stop",
                $"Nonconformance {route.OpenNonconformance} is open, and nothing starts until it is closed: by values measured again that conform, or by what an engineer of {ownerName} decides.{(inWork ? $" {Capital(step.Kind)} may be ended." : "")}",
                Tone.Stop,
                releases ? Move.SeeNonconformance : inWork && moves ? Move.Finish : Move.None,
                step,
                behalf)
            {
                MayFinish = inWork && moves,
            },
            _ when inWork && route.HeldByJoint is { } joint => new(
                $"{piece.Serial} does not bolt up: stop",
                $"Joint {joint} does not go together with what was measured. The correction sheet says what to change, best now while {step.Kind} is in work; nothing after it starts. {Capital(step.Kind)} may be ended.",
                Tone.Stop,
                relation != Relation.Process ? Move.Correct : moves ? Move.Finish : Move.None,
                step,
                behalf)
            {
                MayFinish = moves,
                IsLookedAt = route.LookedAt,
                HeldByJoint = true,
            },
            (PieceStop.LookedAt, _) => new(
                "Whether it bolts up is being looked at",
                $"What was measured of {piece.Serial} came in a moment ago; {step.Kind} starts when its joints have been looked at. The answer comes onto this page by itself.",
                Tone.Plain,
                Move.None,
                step,
                null)
            {
                IsLookedAt = true,
            },
            (PieceStop.Joint, _) => new(
                $"{piece.Serial} does not bolt up: stop",
                $"Joint {route.HeldByJoint} does not go together with what was measured. The correction sheet says what to change, and whether it is this piece; once it bolts up the hold is lifted by itself.",
                Tone.Stop,
                relation == Relation.Process ? Move.None : Move.Correct,
                step,
                behalf)
            {
                HeldByJoint = true,
            },
            (PieceStop.ConformingReport, _) => new(
                $"Held after {step.Kind} until it is measured{Behind(route)}",
                Joined($"{doer} measures {piece.Serial} at stage {step.Stage}; a conforming report opens the hold.", NotShown(route)),
                Tone.Stop,
                route.MayMeasure(actor, relation, step.Stage) ? Move.Measure : Move.None,
                step,
                behalf),
            (PieceStop.NamedRelease, _) => new(
                $"Held after {step.Kind} until it is released{Behind(route)}",
                Joined($"An engineer of {ownerName} looks at {piece.Serial} and releases it; nothing starts before.", NotShown(route)),
                Tone.Stop,
                releases ? Move.Release : Move.None,
                step,
                null),
            (PieceStop.Witness, _) when step.NoticeOverAt is { } over => new(
                $"Waiting for a witness after {step.Kind}{Behind(route)}",
                Joined($"An engineer of {ownerName} was invited. {piece.Serial} goes on by itself on {When.Time(over)}.", NotShown(route)),
                Tone.Stop,
                releases ? Move.Release : Move.None,
                step,
                null),
            (PieceStop.Witness, _) => new(
                $"{Capital(step.Kind)} wants a witness{Behind(route)}",
                Joined($"{doer} invites {ownerName}; {step.NoticeHours} hours later the piece goes on, whoever came.", NotShown(route)),
                Tone.Stop,
                moves ? Move.InviteWitness : Move.None,
                step,
                behalf),
            (_, StepState.Planned) when !accepted => new(
                "The order is not accepted yet",
                $"Before {step.Kind} starts, the order is accepted.",
                Tone.Plain,
                moves ? Move.AcceptOrder : Move.None,
                step,
                behalf),
            (_, StepState.Planned) when piece.OnTheWay is { } way => new(
                Capital(way.ToId == actor.OrganisationId ? $"on the way to you since {LocalTime.Day(way.At)}, {way.Number}" : way.Words) + Behind(route),
                Joined(mine ? $"{Capital(step.Kind)} is yours to start when {piece.Serial} is here." : $"{Capital(step.Kind)} is next, at {doer}.", NotShown(route)),
                Tone.Plain,
                moves ? Move.Start : Move.None,
                step,
                behalf),
            (_, StepState.Planned) => new(
                $"Ready for {step.Kind}{Behind(route)}",
                Joined(
                    mine ? $"{Capital(step.Kind)} is yours to start." : $"{Capital(step.Kind)} is next, at {doer}.",
                    NotShown(route),
                    withoutSlip && moves ? $"No packing slip says that {piece.Serial} was sent." : ""),
                Tone.Plain,
                moves ? Move.Start : Move.None,
                step,
                behalf),
            _ => new(
                $"{Capital(step.Kind)} is {(mine ? StepState.InWork : step.State).Word()}" + (step.State == StepState.AtOutsideProcess && !mine ? $": {doer}" : "") + Behind(route),
                Joined($"Since {When.Time(step.StartedAt!.Value)}.", NotShown(route)) + After(step) + (route.LookedAt ? " Whether it bolts up is being looked at; the answer comes onto this page by itself." : ""),
                Tone.Plain,
                moves ? Move.Finish : Move.None,
                step,
                behalf)
            {
                IsLookedAt = route.LookedAt,
            },
        };
    }

    /// <summary>What is open of the stages that the piece went past, as a sentence; empty when nothing is.</summary>
    private static string NotShown(PieceRoute route) =>
        route.NotShown.Count == 0 ? "" : $"No report at stage {route.StagesNotShown("or")} shows that it conforms.";

    private static string Behind(PieceRoute route) => route.NotShownWords is { } open ? $", {open}" : "";

    private static string Joined(params string[] sentences) => string.Join(' ', sentences.Where(sentence => sentence.Length > 0));

    private static string After(StepFacts step) => step switch
    {
        { Gate: "hold" or "witness", OpenedAt: not null } => " What it would hold for is there already: it goes on at once when it is done.",
        { Gate: "hold", OpensBy: "report" } => $" Then stop: it holds until a report at stage {step.Stage} conforms.",
        { Gate: "hold" } => " Then stop: it holds until an engineer releases it.",
        { Gate: "witness" } => " Then invite a witness.",
        _ => "",
    };

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
