using FabLink.Portal.Features.Pieces;

namespace FabLink.Portal.Features.Shipping;

/// <summary>Which pieces may leave the shop of the order, where the others are, and where a delivery goes.</summary>
public static class Leaving
{
    /// <summary>
    /// The step that another organisation has begun, and after it none is the shop's: the piece does not come back, with a packing slip or without. An inspection may
    /// be at the shop's place.
    /// </summary>
    public static StepFacts? Gone(PieceRoute route, Guid shop) =>
        route.Steps.Reverse().TakeWhile(step => step.OrganisationId != shop).LastOrDefault(step => step is { StartedAt: not null, Kind: not "inspect" });

    /// <summary>The step that another organisation has begun: the piece is there.</summary>
    public static StepFacts? Elsewhere(PieceRoute route, Guid shop) =>
        Gone(route, shop) ?? route.Steps.FirstOrDefault(step => step.OrganisationId != shop && step is { StartedAt: not null, State: not StepState.Finished });

    /// <summary>Mirrors the database, which has the last word.</summary>
    public static bool May(PieceRoute route, Guid shop) =>
        route is { OpenNonconformance: null, IsOver: false }
        && Elsewhere(route, shop) is null
        && route.Steps.Where(step => step.OrganisationId == shop && step.Kind is not ("ship" or "receive" or "install")).All(step => step.State == StepState.Finished)
        && (route.Steps.FirstOrDefault(step => step.OrganisationId == shop && step is { Kind: "ship", StartedAt: null }) is not { } ship || route.MayStart(ship));

    /// <summary>Of a piece that may not leave, or left without a slip.</summary>
    public static string Where(PieceRoute route, Guid shop) => route switch
    {
        { OpenNonconformance: { } number } => $"{number} is open",
        { Done: true } => "through its route",
        _ when route.Current is { StartedAt: null } next && Gone(route, shop) is not null => $"{At(next)}: {next.State.Word()}",
        _ when Elsewhere(route, shop) is { } step => $"{At(step)}: {(step.FinishedAt is null ? "in work" : step.State.Word())}",
        { HeldByJoint: { } joint } => $"{joint} does not bolt up",
        { LookedAt: true } => "its joints are just being looked at",
        { Current: { } step } => step.OrganisationId == shop ? $"{step.Kind}: {step.State.Word()}" : $"{At(step)}: {step.State.Word()}",
        _ => "",
    };

    public static string At(StepFacts step) => step.OrganisationName is { } name ? $"{step.Kind} at {name}" : step.Kind;

    /// <summary>The next step of all these pieces, whose organisation they go to; null when that is nobody outside, or not the same one for all.</summary>
    public static StepFacts? To(IEnumerable<PieceRoute> routes, Guid shop, Guid owner)
    {
        var next = routes.Select(route => route.Steps.FirstOrDefault(step => step.Kind != "ship" && step.FinishedAt is null)).ToList();
        return next.Count > 0 && next[0] is { } to && to.OrganisationId != shop && to.OrganisationId != owner && next.All(step => step?.OrganisationId == to.OrganisationId) ? to : null;
    }
}
