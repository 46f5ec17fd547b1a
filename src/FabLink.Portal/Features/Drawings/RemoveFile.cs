using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer takes a file out of a revision that is not released. Its content stays in the store: other revisions may hold it.</summary>
public static class RemoveFile
{
    public sealed record Request(Guid RevisionId, Guid FileId);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Removed(string Name) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database)
    {
        private const string Delete = """
            delete from revision_file where id = @FileId and revision_id = @RevisionId returning name
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await RevisionRow.LockAsync(work, request.RevisionId) is not { } revision)
                return new Outcome.NotFound();
            if (revision.ReleasedAt is not null)
                return new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, revision.Id));
            if (await work.ValueAsync<string>(Delete, request) is not { } name)
                return new Outcome.NotFound();
            await RevisionRow.BumpAsync(work, revision.Id);
            await work.CommitAsync();
            return new Outcome.Removed(name);
        }
    }
}
