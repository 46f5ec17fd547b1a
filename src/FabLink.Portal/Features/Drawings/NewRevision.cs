using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer begins the next revision of a drawing as a copy of the last one.</summary>
public static class NewRevision
{
    /// <param name="Note">What changes, and why.</param>
    /// <param name="WithFiles">Take the files along; without, only the characteristics are copied.</param>
    public sealed record Request(Guid DrawingId, string? Note, bool WithFiles = false);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator() =>
            RuleFor(request => request.Note).NotEmpty().WithMessage("Say what changes and why; whoever has pieces in work will ask.").MaximumLength(1000);
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Created(Guid RevisionId, string Letter) : Outcome;

        /// <summary>The last revision is not released yet: change that one.</summary>
        public sealed record DraftExists(Guid RevisionId, string Letter) : Outcome;

        public sealed record NoLetterLeft : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string LockDrawing = """
            select id from drawing where id = @DrawingId for update
            """;

        private const string SelectLast = """
            select id, letter, released_at from revision where drawing_id = @DrawingId order by length(letter) desc, letter desc limit 1
            """;

        private const string Insert = """
            insert into revision (id, owner_id, drawing_id, part_id, letter, unit, general_tolerance, welded, note, created_at, created_by)
            select @fresh, owner_id, drawing_id, part_id, @letter, unit, general_tolerance, welded, @note, @now, @PersonId from revision where id = @last
            """;

        private const string SelectFiles = """
            select id from revision_file where revision_id = @last
            """;

        private const string CopyFiles = """
            insert into revision_file (id, owner_id, revision_id, purpose, name, file_type, sha256, size, added_at, added_by)
            select taken.fresh, owner_id, @fresh, purpose, name, file_type, sha256, size, @now, @PersonId
            from revision_file join unnest(@files::uuid[], @copies::uuid[]) taken (old, fresh) on taken.old = id
            """;

        private sealed record Last(Guid Id, string Letter, DateTimeOffset? ReleasedAt);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            // Two people at once: the second waits here and then finds the first one's draft.
            if (await work.ValueAsync<Guid?>(LockDrawing, new { request.DrawingId }) is null)
                return new Outcome.NotFound();
            var last = await work.RowAsync<Last>(SelectLast, new { request.DrawingId })
                ?? throw new InvalidOperationException($"Drawing {request.DrawingId} has no revision.");
            if (last.ReleasedAt is null)
                return new Outcome.DraftExists(last.Id, last.Letter);
            if (RevisionLetter.After(last.Letter) is not { } letter)
                return new Outcome.NoLetterLeft();

            var now = clock.GetUtcNow();
            var fresh = Guid.CreateVersion7(now);
            await work.ExecuteAsync(Insert, new { fresh, last = last.Id, letter, note = request.Note!.Trim(), now, actor.PersonId });
            await CharacteristicRows.InsertAsync(work, now, fresh, await RevisionRow.CharacteristicsAsync(work, last.Id));
            if (request.WithFiles)
            {
                var files = await work.RowsAsync<Guid>(SelectFiles, new { last = last.Id });
                var copies = files.Select(_ => Guid.CreateVersion7(now)).ToArray();
                await work.ExecuteAsync(CopyFiles, new { fresh, files = files.ToArray(), copies, now, actor.PersonId });
            }

            await work.CommitAsync();
            return new Outcome.Created(fresh, letter);
        }
    }
}
