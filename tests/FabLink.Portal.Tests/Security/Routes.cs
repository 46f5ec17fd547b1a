using FabLink.Portal.Features.Calculations;

namespace FabLink.Portal.Tests.Security;

/// <summary>Whose people see the row in the path. The rest is told that there is no such sheet.</summary>
[Flags]
internal enum Sees
{
    Nobody = 0,
    Owner = 1,
    Shop = 2,
    Process = 4,
    Parties = Owner | Shop,
    Route = Owner | Shop | Process,

    /// <summary>No row in the path: whoever has the role.</summary>
    Everybody = 8,
}

/// <summary>What a route does when it is walked: an entry each, or the walk fails.</summary>
/// <param name="Pattern">Verb and template, as the framework knows it.</param>
/// <param name="Path">With the row of Dunlin's order in it.</param>
/// <param name="SignedInToo">False where walking it would end the session of the walker, or fail on purpose.</param>
internal sealed record RouteEntry(string Pattern, string Path, Sees Sees, bool SignedInToo = true)
{
    /// <summary>Answers programs: no page to be sent to, and whoever has no bench is not known here.</summary>
    public bool IsApi => Path.StartsWith("/api/", StringComparison.Ordinal);
}

internal static class Routes
{
    public static readonly IReadOnlyList<RouteEntry> All =
    [
        new("GET ", "/", Sees.Everybody),
        new("GET health", "/health", Sees.Everybody),
        new("GET error/{code:int:range(400,599)}", "/error/404", Sees.Everybody, SignedInToo: false),

        new("GET sign-in", "/sign-in", Sees.Everybody),
        new("POST sign-in", "/sign-in", Sees.Everybody),
        new("POST sign-in/mail", "/sign-in/mail", Sees.Everybody),
        new("GET sign-in/link/{token}", "/sign-in/link/guessed", Sees.Everybody),
        new("POST sign-in/link/{token}", "/sign-in/link/guessed", Sees.Everybody),
        new("GET sign-in/password", "/sign-in/password", Sees.Everybody),
        new("POST sign-in/password", "/sign-in/password", Sees.Everybody),
        new("POST sign-in/everywhere-out", "/sign-in/everywhere-out", Sees.Everybody, SignedInToo: false),
        new("POST sign-out", "/sign-out", Sees.Everybody, SignedInToo: false),

        new("GET gallery", "/gallery", Sees.Everybody),
        new("POST gallery", "/gallery", Sees.Everybody),
        new("GET gallery/board", "/gallery/board", Sees.Everybody),
        new("GET gallery/fault", "/gallery/fault", Sees.Everybody, SignedInToo: false),
        new("GET gallery/refusal", "/gallery/refusal", Sees.Everybody, SignedInToo: false),
        new("GET demo/mail", "/demo/mail", Sees.Everybody),

        new("GET board", "/board", Sees.Everybody),
        new("GET builds", "/builds", Sees.Everybody),
        new("GET builds/new", "/builds/new", Sees.Everybody),
        new("POST builds/new", "/builds/new", Sees.Everybody),
        new("GET builds/{id:guid}", "/builds/{build}", Sees.Owner),
        new("GET builds/{build:guid}/joints/new", "/builds/{build}/joints/new", Sees.Owner),
        new("POST builds/{build:guid}/joints", "/builds/{build}/joints", Sees.Owner),
        new("GET joints/{id:guid}", "/joints/{joint}", Sees.Owner),
        new("GET joints/{id:guid}/edit", "/joints/{joint}/edit", Sees.Owner),
        new("POST joints/{id:guid}/lift", "/joints/{joint}/lift", Sees.Owner),
        new("POST joints/{id:guid}/remove", "/joints/{spare joint}/remove", Sees.Owner),
        new("GET builds/{build:guid}/surveys/new", "/builds/{build}/surveys/new", Sees.Owner),
        new("POST builds/{build:guid}/surveys/new", "/builds/{build}/surveys/new", Sees.Owner),
        new("GET surveys/{id:guid}", "/surveys/{survey}", Sees.Owner),
        new("GET surveys/{id:guid}/file", "/surveys/{survey}/file", Sees.Owner),
        new("POST surveys/{id:guid}/correct", "/surveys/{survey}/correct", Sees.Owner),
        new("GET pieces/{id:guid}/correction", "/pieces/{piece}/correction", Sees.Route),
        new("GET builds/{build:guid}/chains", "/builds/{build}/chains", Sees.Owner),
        new("GET builds/{build:guid}/chains/new", "/builds/{build}/chains/new", Sees.Owner),
        new("POST builds/{build:guid}/chains", "/builds/{build}/chains", Sees.Owner),
        new("GET chains/{id:guid}", "/chains/{chain}", Sees.Owner),
        new("GET chains/{id:guid}/edit", "/chains/{chain}/edit", Sees.Owner),
        new("POST chains/{id:guid}/remove", "/chains/{removable chain}/remove", Sees.Owner),
        new("GET builds/{build:guid}/pairs/new", "/builds/{build}/pairs/new", Sees.Owner),
        new("POST builds/{build:guid}/pairs", "/builds/{build}/pairs", Sees.Owner),
        new("GET pairs/{id:guid}/edit", "/pairs/{pair}/edit", Sees.Owner),
        new("POST pairs/{id:guid}/remove", "/pairs/{removable pair}/remove", Sees.Owner),
        new("GET notices", "/notices", Sees.Everybody),
        new("POST notices/{id:guid}/read", "/notices/{notice}/read", Sees.Shop),

        new("GET parts", "/parts", Sees.Everybody),
        new("GET parts/new", "/parts/new", Sees.Everybody),
        new("POST parts/new", "/parts/new", Sees.Everybody),
        new("GET parts/{id:guid}", "/parts/{part}", Sees.Route),
        new("GET parts/{id:guid}/drawings/new", "/parts/{part}/drawings/new", Sees.Owner),
        new("POST parts/{id:guid}/drawings/new", "/parts/{part}/drawings/new", Sees.Owner),
        new("GET drawings", "/drawings", Sees.Everybody),
        new("GET drawings/{id:guid}/revisions/new", "/drawings/{drawing}/revisions/new", Sees.Owner),
        new("POST drawings/{id:guid}/revisions/new", "/drawings/{drawing}/revisions/new", Sees.Owner),
        new("GET revisions/{id:guid}", "/revisions/{revision}", Sees.Route),
        new("GET revisions/{id:guid}/edit", "/revisions/{draft}/edit", Sees.Owner),
        new("POST revisions/{id:guid}/edit", "/revisions/{draft}/edit", Sees.Owner),
        new("POST revisions/{id:guid}/release", "/revisions/{draft}/release", Sees.Owner),
        new("GET revisions/{id:guid}/characteristics", "/revisions/{draft}/characteristics", Sees.Owner),
        new("POST revisions/{id:guid}/characteristics", "/revisions/{draft}/characteristics", Sees.Owner),
        new("GET revisions/{id:guid}/characteristics/import", "/revisions/{draft}/characteristics/import", Sees.Owner),
        new("POST revisions/{id:guid}/characteristics/import", "/revisions/{draft}/characteristics/import", Sees.Owner),
        new("POST revisions/{id:guid}/files", "/revisions/{draft}/files", Sees.Owner),
        new("POST revisions/{id:guid}/files/{file:guid}/remove", "/revisions/{revision}/files/{file}/remove", Sees.Owner),
        new("GET files/revision/{file:guid}", "/files/revision/{file}", Sees.Parties),

        new("GET lines/{lineId:guid}/measure", "/lines/{line}/measure", Sees.Route),
        new("POST lines/{lineId:guid}/measure", "/lines/{line}/measure", Sees.Route),
        new("GET uploads/{id:guid}", "/uploads/{upload}", Sees.Shop),
        new("POST uploads/{id:guid}", "/uploads/{upload}", Sees.Shop),
        new("GET pieces/{pieceId:guid}/measure/{stage}", "/pieces/{piece}/measure/after%20coat", Sees.Owner | Sees.Process),
        new("POST pieces/{pieceId:guid}/measure/{stage}", "/pieces/{piece}/measure/after%20coat", Sees.Owner | Sees.Process),
        new("GET reports/{id:guid}", "/reports/{report}", Sees.Parties),
        new("GET reports/{id:guid}/file", "/reports/{report}/file", Sees.Parties),
        new("POST reports/{id:guid}/concession", "/reports/{report}/concession", Sees.Owner),
        new("GET nonconformances", "/nonconformances", Sees.Everybody),
        new("GET nonconformances/{id:guid}", "/nonconformances/{nonconformance}", Sees.Parties),
        new("POST nonconformances/{id:guid}", "/nonconformances/{nonconformance}", Sees.Owner),

        new("GET orders", "/orders", Sees.Everybody),
        new("GET orders/new", "/orders/new", Sees.Everybody),
        new("POST orders/new", "/orders/new", Sees.Everybody),
        new("GET orders/{id:guid}", "/orders/{order}", Sees.Parties),
        new("GET orders/{id:guid}/edit", "/orders/{draft order}/edit", Sees.Owner),
        new("POST orders/{id:guid}/edit", "/orders/{draft order}/edit", Sees.Owner),
        new("POST orders/{id:guid}/issue", "/orders/{draft order}/issue", Sees.Owner),
        new("POST orders/{id:guid}/accept", "/orders/{order}/accept", Sees.Parties),
        new("GET orders/{id:guid}/decline", "/orders/{order}/decline", Sees.Parties),
        new("POST orders/{id:guid}/decline", "/orders/{order}/decline", Sees.Parties),
        new("GET orders/{id:guid}/lines/{lineId:guid}/promise", "/orders/{order}/lines/{line}/promise", Sees.Parties),
        new("POST orders/{id:guid}/lines/{lineId:guid}/promise", "/orders/{order}/lines/{line}/promise", Sees.Parties),
        new("GET orders/{id:guid}/lines/{lineId:guid}/sampling", "/orders/{order}/lines/{line}/sampling", Sees.Owner),
        new("POST orders/{id:guid}/lines/{lineId:guid}/sampling", "/orders/{order}/lines/{line}/sampling", Sees.Owner),
        new("POST orders/{id:guid}/close", "/orders/{order}/close", Sees.Owner),
        new("POST orders/{id:guid}/attach", "/orders/{order}/attach", Sees.Parties),
        new("POST pieces/{id:guid}/attach", "/pieces/{piece}/attach", Sees.Route),
        new("GET attachments/{id:guid}", "/attachments/{attachment}", Sees.Parties),
        new("GET orders/{id:guid}/ship", "/orders/{order}/ship", Sees.Parties),
        new("POST orders/{id:guid}/ship", "/orders/{order}/ship", Sees.Parties),
        new("GET slips/{id:guid}", "/slips/{slip}", Sees.Parties),
        new("GET orders/{id:guid}/ask", "/orders/{order}/ask", Sees.Parties),
        new("POST orders/{id:guid}/ask", "/orders/{order}/ask", Sees.Parties),
        new("POST questions/{id:guid}/answer", "/questions/{question}/answer", Sees.Owner),
        new("GET pieces/{id:guid}", "/pieces/{piece}", Sees.Route),
        new("GET pieces/{id:guid}/release", "/pieces/{piece}/release", Sees.Owner),
        new("POST pieces/{id:guid}/release", "/pieces/{piece}/release", Sees.Owner),
        new("GET steps", "/steps", Sees.Everybody),
        new("POST steps/start", "/steps/start", Sees.Everybody),
        new("POST steps/finish", "/steps/finish", Sees.Everybody),
        new("POST steps/witness", "/steps/witness", Sees.Everybody),

        new("GET shifts", "/shifts", Sees.Everybody),
        new("GET instruments", "/instruments", Sees.Everybody),
        new("GET instruments/new", "/instruments/new", Sees.Everybody),
        new("POST instruments", "/instruments", Sees.Everybody),
        new("GET instruments/{id:guid}", "/instruments/{instrument}", Sees.Shop),
        new("POST instruments/{id:guid}/withdraw", "/instruments/{instrument}/withdraw", Sees.Shop),
        new("GET people", "/people", Sees.Everybody),
        new("POST people", "/people", Sees.Everybody),
        new("POST people/shops", "/people/shops", Sees.Everybody),
        new("POST people/zone", "/people/zone", Sees.Everybody),
        new("POST people/{id:guid}/leave", "/people/{colleague}/leave", Sees.Shop),

        new("GET bench", "/bench", Sees.Everybody),
        .. Bench("GET", "judge", "general-tolerance", "fit", "position", "fasteners", "gauge", "reach", "sampling-plan", "operating-curve"),
        .. Bench("GET", "feature", "bolt-up", "chain", "vector-loop", "gauge-study"),
        .. Bench("POST", "feature", "bolt-up", "chain", "vector-loop", "gauge-study"),

        new("GET openapi/{documentName}.json", "/openapi/v1.json", Sees.Everybody),
        new("GET api/v1/calculations", "/api/v1/calculations", Sees.Everybody),
        new("GET api/v1/calculations/{**name}", "/api/v1/calculations/nothing", Sees.Everybody),
        .. Calculators.All.Select(calculator => new RouteEntry($"POST api/v1/calculations/{calculator.Name}", $"/api/v1/calculations/{calculator.Name}", Sees.Everybody)),
    ];

    private static IEnumerable<RouteEntry> Bench(string verb, params string[] pages) =>
        pages.Select(page => new RouteEntry($"{verb} bench/{page}", $"/bench/{page}", Sees.Everybody));
}
