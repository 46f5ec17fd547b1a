using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The step that comes after one's own: its kind and who does it, and no more of the route.</summary>
public sealed record NextStep(string Kind, Guid OrganisationId, string Organisation)
{
    private const string Sql = "select kind, organisation_id, organisation from next_after(@step)";

    /// <summary>Null when nothing comes after it, when something holds the piece, or when the piece went on already.</summary>
    public static Task<NextStep?> AfterAsync(Work work, Guid step) => work.RowAsync<NextStep>(Sql, new { step });

    /// <summary>An inspector may come to the piece; for all else the piece goes there.</summary>
    public bool IsSentTo => Kind != "inspect";

    /// <summary>For an organisation that has the pieces and not this step.</summary>
    public string Words(string it = "it") => IsSentTo ? $"Next is {Kind}, at {Organisation}: send {it} there." : $"Next is {Kind}, by {Organisation}.";
}
