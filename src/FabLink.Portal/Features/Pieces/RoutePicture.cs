using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The route of a piece as it is drawn: a state is a line type, with its words and dates under it.</summary>
public static class RoutePicture
{
    public static LineType Line(this StepState state) => state switch
    {
        StepState.Planned => LineType.Planned,
        StepState.InWork => LineType.InWork,
        StepState.AtOutsideProcess => LineType.Outside,
        StepState.Held or StepState.WaitingForWitness => LineType.Held,
        _ => LineType.Done,
    };

    /// <summary>The line of a step of this piece: also held where what failed or a joint keeps it from starting; where the piece is over, nothing is held or planned any more.</summary>
    public static LineType LineOf(this PieceRoute route, StepFacts step) => (route.StopsAt(step), step.State.Line()) switch
    {
        (true, _) => LineType.Held,
        (_, LineType.Held) when route.IsOver => LineType.Done,
        (_, LineType.Planned) when route.IsOver => LineType.NotDone,
        (_, var line) => line,
    };

    public static RouteLine Of(PieceOnRoute piece) => new(
        [
            .. piece.Route.Steps.Select(step => new RouteStep(
                Name(step),
                piece.Route.LineOf(step),
                piece.Route.IsOver ? Left(step)
                    : piece.Route.StopsAt(step) ? $"held: {Because(piece.Route)}"
                    : step == piece.Route.Current && step.StartedAt is null && piece.OnTheWay is { } way ? $"{way.Words}{Gate(step)}" : Under(step))),
        ],
        $"Route of {piece.Serial}");

    private static string Because(PieceRoute route) => route.Stop == PieceStop.Joint ? "does not bolt up" : $"{route.OpenNonconformance} is open";

    private static string Name(StepFacts step) => char.ToUpperInvariant(step.Kind[0]) + step.Kind[1..];

    private static string Under(StepFacts step) => step.State switch
    {
        StepState.Planned => $"{step.OrganisationName ?? "another shop"}, {(step.PlannedDays == 1 ? "1 day" : $"{step.PlannedDays} days")} planned{Gate(step)}",
        StepState.InWork => $"in work since {When.Time(step.StartedAt!.Value)}{Gate(step)}",
        StepState.AtOutsideProcess => $"at {step.OrganisationName ?? "another shop"} since {When.Time(step.StartedAt!.Value)}",
        StepState.Held => $"held since {When.Time(step.FinishedAt!.Value)}: {(step.OpensBy == "report" ? $"report at {step.Stage}" : "release by the engineer")}",
        StepState.WaitingForWitness => step.NoticeOverAt is { } over
            ? $"witness invited, goes on {When.Time(over)}"
            : "a witness must be invited",
        _ => $"done {When.Time(step.FinishedAt!.Value)}",
    };

    /// <summary>As it was left: nothing of it goes on.</summary>
    private static string Left(StepFacts step) => step.State switch
    {
        StepState.Planned => "not done",
        StepState.InWork or StepState.AtOutsideProcess => $"begun {When.Time(step.StartedAt!.Value)}, not finished",
        StepState.Held or StepState.WaitingForWitness => $"done {When.Time(step.FinishedAt!.Value)}, never opened",
        _ => $"done {When.Time(step.FinishedAt!.Value)}",
    };

    private static string Gate(StepFacts step) => step.Gate switch
    {
        "hold" => ", then a hold",
        "witness" => ", then a witness",
        _ => "",
    };
}
