using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer writes the whole table of a revision's characteristics at once; all rows are taken or none.</summary>
public static class EditCharacteristics
{
    public const int MostRows = 1000;

    /// <param name="RowVersion">Of the revision, as the person saw it.</param>
    /// <param name="Rows">The whole table in its order; blank rows are passed over, what is missing is removed.</param>
    public sealed record Request(Guid RevisionId, int RowVersion, IReadOnlyList<CharacteristicEntry> Rows);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Saved(int Characteristics, int RowVersion) : Outcome;

        public sealed record Wrong(IReadOnlyList<EntryProblem> Problems) : Outcome;

        public sealed record Stale(Changed Change, int RowVersion) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await RevisionRow.LockAsync(work, request.RevisionId) is not { } revision)
                return new Outcome.NotFound();
            if (revision.ReleasedAt is not null)
                return new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, revision.Id));
            if (revision.RowVersion != request.RowVersion)
                return new Outcome.Stale(await RevisionRow.LastChangeAsync(work, revision.Id), revision.RowVersion);

            if (request.Rows.Count > MostRows)
                return new Outcome.Wrong([new EntryProblem(MostRows, nameof(CharacteristicEntry.Balloon), $"A revision holds at most {MostRows} rows.")]);
            var reading = CharacteristicReader.Read(request.Rows, revision.Unit, revision.GeneralTolerance);
            if (reading.Problems.Count > 0)
                return new Outcome.Wrong(reading.Problems);

            await CharacteristicRows.ReplaceAsync(work, clock.GetUtcNow(), revision.Id, reading.Characteristics);
            await RevisionRow.BumpAsync(work, revision.Id);
            await work.CommitAsync();
            return new Outcome.Saved(reading.Characteristics.Count, revision.RowVersion + 1);
        }
    }
}
