using FabLink.Engineering.Judging;

namespace FabLink.Portal.Features.Reports;

/// <summary>The points in a route where a report is taken, in the order of the route.</summary>
public static class Stages
{
    public static IReadOnlyList<string> All { get; } =
        ["cut", "tack", "as welded", "as machined", "before coat", "after coat", "receiving", "installed"];

    public static string Word(Verdict verdict) => verdict switch
    {
        Verdict.Conforms => "conforms",
        Verdict.NotProven => "not proven",
        Verdict.Incomplete => "incomplete",
        _ => "does not conform",
    };
}
