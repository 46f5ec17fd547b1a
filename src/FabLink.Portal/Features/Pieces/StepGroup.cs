using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The same thing to do with several pieces: one form, one button, a tick for each piece.</summary>
/// <param name="Deed"><c>start</c>, <c>finish</c> or <c>witness</c>: the last part of the path it is sent to.</param>
public sealed record StepGroup(string Deed, string Kind, string Part, string? OnBehalfOf, DateOnly? WantedBy, IReadOnlyList<StepGroup.Item> Items, string Back)
{
    public sealed record Item(Guid StepId, Guid PieceId, string Serial);

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
                [.. group.Select(each => new Item(each.Step.Id, each.Piece.Id, each.Piece.Serial))],
                back)),
    ];

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
