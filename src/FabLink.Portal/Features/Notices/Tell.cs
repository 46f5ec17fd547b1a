using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Notices;

/// <summary>
/// Tells people something inside the transaction that caused it: a notice each, and a mail that the outbox owes them.
/// The database function behind it lets an actor reach only organisations of the same work order.
/// </summary>
public static class Tell
{
    private const string Sql = """
        select tell(@kind, @organisation, @roles, @workOrder, @piece::uuid, @subject, @body, @path, @saidOnce::text, @at)
        """;

    /// <param name="kind">What sort of thing happened, in plain words (<c>report failed</c>, <c>promised late</c>).</param>
    /// <param name="roles">Who of the organisation is told; names as in <c>person.roles</c>.</param>
    /// <param name="subject">One line, what happened to what.</param>
    /// <param name="body">What is true and what to do, in sentences.</param>
    /// <param name="path">Where in the portal it is seen; begins with a slash.</param>
    /// <param name="saidOnce">The same key is told to a person only once, ever; null when each time counts.</param>
    /// <returns>How many people were told.</returns>
    public static async Task<int> OrganisationAsync(
        Work work,
        DateTimeOffset at,
        string kind,
        Guid organisation,
        string[] roles,
        Guid workOrder,
        Guid? piece,
        string subject,
        string body,
        string path,
        string? saidOnce = null) =>
        await work.ValueAsync<int>(Sql, new { kind, organisation, roles, workOrder, piece, subject, body, path, saidOnce, at });
}
