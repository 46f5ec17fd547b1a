namespace FabLink.Portal.Platform.People;

/// <summary>Everything a person can do in the portal, as verbs of the trade.</summary>
public enum Deed
{
    SeeDrawings,
    WriteDrawings,
    ReleaseRevision,
    SeeBuilds,
    WriteBuilds,
    WriteJoints,
    SeeWorkOrders,
    WriteWorkOrder,
    AnswerWorkOrder,
    Promise,
    AskQuestion,
    AnswerQuestion,
    Ship,
    SeePieces,
    MoveStep,
    SeeReports,
    SubmitReport,
    OpenGate,
    DisposeNonconformance,
    SeeNotices,
    KeepInstruments,
    KeepPeople,
    TakeOnShops,
    SeeAudit,
    UseBench,
    SeeShifts,
    WriteChains,
}

/// <summary>How the actor's organisation stands to the work order in question.</summary>
public enum Relation
{
    /// <summary>The deed concerns no work order, only the organisation's own things.</summary>
    Own,

    /// <summary>The build shop that issued it.</summary>
    Owner,

    /// <summary>The shop that makes the parts.</summary>
    Shop,

    /// <summary>A shop that has a step of the route to do, such as the coater.</summary>
    Process,
}

/// <summary>
/// Who may do what: role × deed × relation, one table. Printed to docs/permissions.md by a test and walked whole by another.
/// What may be seen at all is decided before this, by the policies of the database.
/// </summary>
public static class Permissions
{
    private const Roles BuildShop = Roles.Engineer | Roles.Buyer;
    private const Roles Everybody = Roles.Engineer | Roles.Buyer | Roles.Fabricator | Roles.Coater;

    /// <summary>What a person of an organisation of this kind can be; the database holds the same.</summary>
    public static IReadOnlyList<string> RolesOf(string organisationKind) => organisationKind == "build shop" ? ["engineer", "buyer"] : ["fabricator", "coater"];

    /// <summary>The table itself: a deed, the relation it is done in, the roles that may.</summary>
    public static IReadOnlyList<(Deed Deed, Relation Relation, Roles Roles)> Table { get; } =
    [
        (Deed.SeeDrawings, Relation.Own, Everybody),
        (Deed.SeeDrawings, Relation.Owner, BuildShop),
        (Deed.SeeDrawings, Relation.Shop, Roles.Fabricator),
        (Deed.SeeDrawings, Relation.Process, Roles.Coater | Roles.Fabricator),
        (Deed.WriteDrawings, Relation.Own, Roles.Engineer),
        (Deed.ReleaseRevision, Relation.Own, Roles.Engineer),
        (Deed.SeeBuilds, Relation.Own, BuildShop),
        (Deed.WriteBuilds, Relation.Own, BuildShop),
        (Deed.WriteJoints, Relation.Own, Roles.Engineer),
        (Deed.SeeWorkOrders, Relation.Own, BuildShop | Roles.Fabricator),
        (Deed.SeeWorkOrders, Relation.Owner, BuildShop),
        (Deed.SeeWorkOrders, Relation.Shop, Roles.Fabricator),
        (Deed.WriteWorkOrder, Relation.Own, BuildShop),
        (Deed.WriteWorkOrder, Relation.Owner, BuildShop),
        (Deed.AnswerWorkOrder, Relation.Owner, BuildShop),
        (Deed.AnswerWorkOrder, Relation.Shop, Roles.Fabricator),
        (Deed.Promise, Relation.Owner, BuildShop),
        (Deed.Promise, Relation.Shop, Roles.Fabricator),
        (Deed.AskQuestion, Relation.Owner, BuildShop),
        (Deed.AskQuestion, Relation.Shop, Roles.Fabricator),
        (Deed.AnswerQuestion, Relation.Owner, BuildShop),
        (Deed.Ship, Relation.Owner, BuildShop),
        (Deed.Ship, Relation.Shop, Roles.Fabricator),
        (Deed.SeePieces, Relation.Own, Everybody),
        (Deed.SeePieces, Relation.Owner, BuildShop),
        (Deed.SeePieces, Relation.Shop, Roles.Fabricator),
        (Deed.SeePieces, Relation.Process, Roles.Coater | Roles.Fabricator),
        (Deed.MoveStep, Relation.Owner, BuildShop),
        (Deed.MoveStep, Relation.Shop, Roles.Fabricator),
        (Deed.MoveStep, Relation.Process, Roles.Coater | Roles.Fabricator),
        (Deed.SeeReports, Relation.Owner, BuildShop),
        (Deed.SeeReports, Relation.Shop, Roles.Fabricator),
        (Deed.SeeReports, Relation.Process, Roles.Coater | Roles.Fabricator),
        (Deed.SubmitReport, Relation.Owner, BuildShop),
        (Deed.SubmitReport, Relation.Shop, Roles.Fabricator),
        (Deed.SubmitReport, Relation.Process, Roles.Coater | Roles.Fabricator),
        (Deed.OpenGate, Relation.Owner, Roles.Engineer),
        (Deed.DisposeNonconformance, Relation.Owner, Roles.Engineer),
        (Deed.SeeNotices, Relation.Own, Everybody),
        (Deed.KeepInstruments, Relation.Own, Everybody),
        (Deed.KeepPeople, Relation.Own, Everybody),
        (Deed.TakeOnShops, Relation.Own, BuildShop),
        (Deed.SeeAudit, Relation.Own, BuildShop),
        (Deed.UseBench, Relation.Own, Everybody),
        (Deed.SeeShifts, Relation.Own, Roles.Engineer | Roles.Fabricator),
        (Deed.WriteChains, Relation.Own, Roles.Engineer),
    ];

    private static readonly Dictionary<(Deed, Relation), Roles> _byDeedAndRelation =
        Table.ToDictionary(row => (row.Deed, row.Relation), row => row.Roles);

    private static readonly Dictionary<Deed, Roles> _byDeed =
        Table.GroupBy(row => row.Deed).ToDictionary(rows => rows.Key, rows => rows.Aggregate(Roles.None, (all, row) => all | row.Roles));

    /// <summary>May the actor do this in this relation?</summary>
    public static bool May(this Actor actor, Deed deed, Relation relation) =>
        _byDeedAndRelation.TryGetValue((deed, relation), out var roles) && (actor.Roles & roles) != 0;

    /// <summary>May the actor do this in any relation at all? The coarse question a route asks before it knows the row.</summary>
    public static bool MayAnywhere(this Actor actor, Deed deed) =>
        _byDeed.TryGetValue(deed, out var roles) && (actor.Roles & roles) != 0;

    /// <summary>How the actor's organisation stands to a work order that it can see.</summary>
    public static Relation RelationTo(this Actor actor, Guid ownerId, Guid? shopId) =>
        actor.OrganisationId == ownerId ? Relation.Owner
        : actor.OrganisationId == shopId ? Relation.Shop
        : Relation.Process;
}
