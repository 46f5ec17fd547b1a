using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Notices;

/// <summary>What the portal told people, and whether the mail arrived. One's own, and those of one's own work orders.</summary>
public static class ListNotices
{
    /// <param name="DoneAt">When the mail server took it; null while it is still owed.</param>
    public sealed record Row(
        Guid Id,
        string Kind,
        string Subject,
        string Body,
        string Path,
        DateTimeOffset CreatedAt,
        DateTimeOffset? ReadAt,
        bool Mine,
        string Person,
        string Organisation,
        DateTimeOffset? DoneAt,
        int? Tries,
        DateTimeOffset? NextTryAt,
        string? LastError);

    public sealed record Page(IReadOnlyList<Row> Rows, bool All, int Number, long Total);

    public const int PageSize = 100;

    public sealed class Handler(Database database)
    {
        private const string From = """
            from notice n join person p on p.id = n.person_id join organisation o on o.id = n.organisation_id left join outbox x on x.subject_id = n.id
            where @all or n.person_id = @PersonId
            """;

        private const string Select = """
            select n.id, n.kind, n.subject, n.body, n.path, n.created_at, n.read_at, n.person_id = @PersonId as mine, p.name as person, o.name as organisation,
                   x.done_at, x.tries, x.next_try_at, x.last_error
            """ + "\n" + From + "\norder by n.created_at desc, n.id limit @PageSize offset @skip";

        private const string Read = "update notice set read_at = coalesce(read_at, @now) where id = @id and person_id = @PersonId";

        public async Task<Page> HandleAsync(Actor actor, bool all, int number, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            number = Math.Max(1, number);
            var args = new { all, actor.PersonId, PageSize, skip = (number - 1) * PageSize };
            return new Page(await work.RowsAsync<Row>(Select, args), all, number, await work.ValueAsync<long>("select count(*) " + From, args));
        }

        /// <returns>False when this person has no such notice.</returns>
        public async Task<bool> MarkReadAsync(Actor actor, Guid id, DateTimeOffset now, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var mine = await work.ExecuteAsync(Read, new { id, actor.PersonId, now }) > 0;
            await work.CommitAsync();
            return mine;
        }
    }
}
