using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer adds files to a revision that is not released: several at once, all or none.</summary>
public static class AddFiles
{
    public static IReadOnlyList<string> Purposes { get; } = ["drawing", "model", "flat pattern", "mask map", "photo", "other"];

    /// <param name="Purpose">Empty: by the type of the file.</param>
    public sealed record Incoming(string Name, Stream Content, string? Purpose = null);

    public sealed record Request(Guid RevisionId, IReadOnlyList<Incoming> Files);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Added">Without those that were there already, under the same name with the same content.</param>
        public sealed record Done(int Added, int Already) : Outcome;

        /// <summary>None was taken; each message names a file and says why.</summary>
        public sealed record Refused(IReadOnlyList<string> Messages) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, FileStore store, TimeProvider clock)
    {
        private const string Insert = """
            insert into revision_file (id, owner_id, revision_id, purpose, name, file_type, sha256, size, added_at, added_by)
            values (@id, @OrganisationId, @RevisionId, @purpose, @name, @Code, @Sha256, @Size, @now, @PersonId)
            on conflict (revision_id, sha256, name) do nothing
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            // Asked before anything is written to the disk, and again under the lock below.
            if (await GateAsync(actor, request.RevisionId, cancellation) is { } closed)
                return closed;

            var refusals = new List<string>();
            var stored = new List<(string Name, string Purpose, StoredFile File)>();
            foreach (var incoming in request.Files)
            {
                try
                {
                    var file = await store.SaveAsync(incoming.Content, incoming.Name, FileRule.Drawing, cancellation);
                    stored.Add((FileNames.Safe(incoming.Name), PurposeOf(incoming, file.Type), file));
                }
                catch (FileRefused refusal)
                {
                    refusals.Add(refusal.Message);
                }
            }

            if (request.Files.Count == 0)
                refusals.Add("Choose one or several files.");
            if (refusals.Count > 0)
                return new Outcome.Refused(refusals);

            await using var work = await database.BeginAsync(actor, cancellation);
            if (await RevisionRow.LockAsync(work, request.RevisionId) is not { } revision)
                return new Outcome.NotFound();
            if (revision.ReleasedAt is not null)
                return new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, revision.Id));
            var added = 0;
            var now = clock.GetUtcNow();
            foreach (var (name, purpose, file) in stored)
            {
                added += await work.ExecuteAsync(Insert, new
                {
                    id = Guid.CreateVersion7(now),
                    actor.OrganisationId,
                    request.RevisionId,
                    purpose,
                    name,
                    file.Type.Code,
                    file.Sha256,
                    file.Size,
                    now,
                    actor.PersonId,
                });
            }

            if (added > 0)
                await RevisionRow.BumpAsync(work, revision.Id);
            await work.CommitAsync();
            return new Outcome.Done(added, stored.Count - added);
        }

        private async Task<Outcome?> GateAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await RevisionRow.LockAsync(work, id) switch
            {
                null => new Outcome.NotFound(),
                { ReleasedAt: not null } => new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, id)),
                _ => null,
            };
        }

        private static string PurposeOf(Incoming incoming, FileType type) =>
            Purposes.Contains(incoming.Purpose) ? incoming.Purpose!
            : type == FileType.Pdf ? "drawing"
            : type == FileType.Step ? "model"
            : type == FileType.Dxf ? "flat pattern"
            : type == FileType.Png || type == FileType.Jpeg ? "photo"
            : "other";
    }
}
