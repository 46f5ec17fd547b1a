using FabLink.Engineering.Judging;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Reports;

/// <summary>The points in a route where a report is taken, in the order of the route.</summary>
public static class Stages
{
    public static IReadOnlyList<string> All { get; } =
        ["cut", "tack", "as welded", "as machined", "before coat", "after coat", "receiving", "installed"];

    /// <summary>
    /// May an organisation measure at a stage? Where it has a step itself; the shop of the order also where nobody has one; the build shop everywhere.
    /// Mirrors the database, which has the last word.
    /// </summary>
    /// <param name="given">Whoever has a step at the stage, as far as the organisation sees the route.</param>
    public static bool MeasuredBy(Relation relation, Guid organisation, IReadOnlyCollection<Guid> given) =>
        relation == Relation.Owner || given.Contains(organisation) || relation == Relation.Shop && given.Count == 0;

    public static string Word(Verdict verdict) => verdict switch
    {
        Verdict.Conforms => "conforms",
        Verdict.NotProven => "not proven",
        Verdict.Incomplete => "incomplete",
        _ => "does not conform",
    };
}
