using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer changes what the title block says about all dimensions; every characteristic is read anew under it.</summary>
public static class EditRevision
{
    public sealed record Request(Guid RevisionId, int RowVersion, string? Unit, string? GeneralTolerance, bool Welded, string? Note);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Unit).Must(RevisionRow.IsUnit).WithMessage("A drawing is in mm or in inches (in).");
            RuleFor(request => request.GeneralTolerance).Must(RevisionRow.IsGeneralTolerance)
                .WithMessage("That is not a general tolerance such as ISO 2768-m, ISO 2768-mK or ISO 13920-BF.");
            RuleFor(request => request.Note).MaximumLength(1000);
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Changed">Balloons whose limits are others now.</param>
        public sealed record Saved(IReadOnlyList<int> Changed) : Outcome;

        /// <summary>Characteristics that could not be read under this title block; nothing was saved.</summary>
        public sealed record Unreadable(IReadOnlyList<string> Problems) : Outcome;

        public sealed record Stale(Changed Change, int RowVersion) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Update = """
            update revision set unit = @Unit, general_tolerance = @generalTolerance, welded = @Welded, note = @note, row_version = row_version + 1
            where id = @RevisionId
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
            if (revision.RowVersion != request.RowVersion)
                return new Outcome.Stale(await RevisionRow.LastChangeAsync(work, revision.Id), revision.RowVersion);

            var before = await RevisionRow.CharacteristicsAsync(work, revision.Id);
            var reading = CharacteristicReader.Read([.. before.Select(one => one.ToEntry())], request.Unit!, request.GeneralTolerance);
            if (reading.Problems.Count > 0)
                return new Outcome.Unreadable([.. reading.Problems.Select(problem => $"Balloon {before[problem.Row].Balloon}: {problem.Message}")]);

            await CharacteristicRows.ReplaceAsync(work, clock.GetUtcNow(), revision.Id, reading.Characteristics);
            await work.ExecuteAsync(Update, new
            {
                request.RevisionId,
                request.Unit,
                generalTolerance = RevisionRow.Spelled(request.GeneralTolerance),
                request.Welded,
                note = request.Note?.Trim() ?? "",
            });
            await work.CommitAsync();
            var changed = reading.Characteristics.Zip(before).Where(pair => !pair.First.SaysTheSameAs(pair.Second)).Select(pair => pair.First.Balloon);
            return new Outcome.Saved([.. changed]);
        }
    }
}
