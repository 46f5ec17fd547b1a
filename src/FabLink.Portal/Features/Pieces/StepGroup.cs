using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The same thing to do with several pieces: one form, one button, a tick for each piece.</summary>
/// <param name="Deed"><c>start</c>, <c>finish</c> or <c>witness</c>: the last part of the path it is sent to.</param>
public sealed record StepGroup(string Deed, string Kind, string Part, string? OnBehalfOf, DateOnly? WantedBy, IReadOnlyList<StepGroup.Item> Items, string Back)
{
    /// <param name="Remark">On the way, or come without a packing slip; null when there is nothing to say.</param>
    public sealed record Item(Guid StepId, Guid PieceId, string Serial, string? Remark = null);

    /// <summary>Pieces that wait for the same thing, which is done on a page of its own.</summary>
    /// <param name="Page">Where it is done for all of them; null when it is done on the page of each.</param>
    /// <param name="What">The stage to measure at, or what they wait for.</param>
    public sealed record Stopped(string? Page, string What, string Part, IReadOnlyList<Item> Items);

    public string Button => Deed switch
    {
        "start" => $"Start {Kind}",
        "finish" => $"{Capital(Kind)} is done",
        _ => $"Invite a witness to {Kind}",
    };

    /// <summary>What the actor can do now with the pieces of an order, in the order of the route.</summary>
    public static IReadOnlyList<StepGroup> Of(IEnumerable<PieceOnRoute> pieces, Actor actor, Relation relation, string back) =>
    [
        .. pieces
            .Where(piece => piece.Route.Current is { } step && actor.May(Platform.People.Deed.MoveStep, relation)
                            && (relation == Relation.Owner || step.OrganisationId == actor.OrganisationId))
            .Select(piece => (Piece: piece, Step: piece.Route.Current!, Deed: DeedOf(piece.Route)))
            .Where(each => each.Deed is not null)
            .GroupBy(each => (each.Deed, each.Step.Ordinal, each.Step.Kind, each.Step.OrganisationId, each.Step.OrganisationName, each.Piece.PartNumber))
            .OrderBy(group => group.Key.PartNumber, StringComparer.Ordinal).ThenBy(group => group.Key.Ordinal)
            .Select(group => new StepGroup(
                group.Key.Deed!,
                group.Key.Kind,
                group.Key.PartNumber,
                group.Key.OrganisationId == actor.OrganisationId ? null : group.Key.OrganisationName,
                null,
                [.. group.Select(each => new Item(each.Step.Id, each.Piece.Id, each.Piece.Serial, each.Deed == "start" ? each.Piece.OnTheWay?.WordsHere : null))],
                back)),
    ];

    /// <summary>Pieces that stand until we have measured them.</summary>
    public static IReadOnlyList<Stopped> ToMeasure(IEnumerable<PieceOnRoute> pieces, Actor actor) =>
    [
        .. pieces.Where(piece => piece.Route.WaitsForReport && piece.WhoseTurn?.Id == actor.OrganisationId)
            .Select(piece => (Piece: piece, Stage: StageOf(piece.Route)))
            .GroupBy(each => (each.Piece.LineId, each.Stage, each.Piece.PartNumber))
            .Select(group => new Stopped($"/lines/{group.Key.LineId}/measure?stage={Uri.EscapeDataString(group.Key.Stage)}", group.Key.Stage, group.Key.PartNumber, [.. group.Select(each => ItemOf(each.Piece))])),
    ];

    /// <summary>Pieces that an engineer of the build shop lets go on: a hold, or a witness who was invited.</summary>
    public static IReadOnlyList<Stopped> ToRelease(IEnumerable<PieceOnRoute> pieces) =>
    [
        .. pieces.Where(piece => piece.Route is { IsOver: false } route && (route.Stop == PieceStop.NamedRelease || route is { Stop: PieceStop.Witness, Current.AskedAt: not null }))
            .GroupBy(piece => (piece.Route.Current!.Kind, piece.Route.Stop, piece.PartNumber))
            .Select(group => new Stopped(null, group.Key.Stop == PieceStop.Witness ? $"a witness is invited to {group.Key.Kind}" : $"held after {group.Key.Kind}", group.Key.PartNumber, [.. group.Select(ItemOf)])),
    ];

    private static Item ItemOf(PieceOnRoute piece) => new(piece.Route.Current!.Id, piece.Id, piece.Serial);

    private static string StageOf(PieceRoute route) => (route.OpenNonconformance is null ? route.Current!.Stage : route.FailedStage)!;

    private static string? DeedOf(PieceRoute route) => route switch
    {
        { IsOver: true } => null,
        { Current.State: StepState.InWork or StepState.AtOutsideProcess } => "finish",
        { Stop: PieceStop.Witness, Current.AskedAt: null } => "witness",
        { Current: { } step } when route.MayStart(step) => "start",
        _ => null,
    };

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
