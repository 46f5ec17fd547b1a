using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Platform.Web;

/// <summary>The places in the head of the page that this person may go to.</summary>
internal sealed class PortalNav : INavSource
{
    private static readonly (Deed Deed, NavItem Item)[] _places =
    [
        (Deed.SeeBuilds, new NavItem("Board", "/board")),
        (Deed.SeeBuilds, new NavItem("Builds", "/builds")),
        (Deed.SeeWorkOrders, new NavItem("Work orders", "/orders")),
        (Deed.SeeDrawings, new NavItem("Drawings", "/parts")),
        (Deed.SeeReports, new NavItem("Nonconformances", "/nonconformances")),
        (Deed.KeepInstruments, new NavItem("Instruments", "/instruments")),
        (Deed.SeeNotices, new NavItem("Notices", "/notices")),
        (Deed.KeepPeople, new NavItem("People", "/people")),
        (Deed.UseBench, new NavItem("Bench", "/bench")),
    ];

    public ValueTask<NavModel> ForAsync(HttpContext context) =>
        ValueTask.FromResult(Actor.From(context.User) is { } actor
            ? new NavModel([.. PlacesOf(actor)], actor.Name, actor.OrganisationName)
            : NavModel.SignedOut);

    private static IEnumerable<NavItem> PlacesOf(Actor actor)
    {
        // Who is not the build shop has steps of others' orders to do, and begins with these.
        if (!actor.IsBuildShop)
            yield return new NavItem("Steps given to us", "/steps");
        foreach (var (deed, item) in _places)
        {
            if (actor.MayAnywhere(deed))
                yield return item;
        }
    }
}
