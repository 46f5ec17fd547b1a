using FabLink.Portal.Features.Instruments;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Tables;
using FluentValidation;
using Severity = FabLink.Portal.Platform.Tables.Severity;

namespace FabLink.Portal.Features.Surveys;

/// <summary>
/// The engineer keeps what was measured on the machine as found. A survey of the same name takes the place of the one before, and every joint that
/// stands on it is looked at again.
/// </summary>
public static class KeepSurvey
{
    public sealed record Request(Guid BuildId, string? Name, string? Instrument, string? Note);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Name).NotEmpty().WithMessage("Name what was measured, such as carrier rails.").MaximumLength(80);
            RuleFor(request => request.Instrument).MaximumLength(80);
            RuleFor(request => request.Note).MaximumLength(1000);
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Replaced">It took the place of an older one of this name.</param>
        public sealed record Kept(Guid Id, int Points, bool Replaced) : Outcome;

        public sealed record Wrong(IReadOnlyList<TableProblem> Problems) : Outcome;

        public sealed record Refused(string Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, FileStore files, TimeProvider clock)
    {
        private const string Build = "select id from build where id = @BuildId for key share";

        private const string Upsert = """
            insert into survey (id, owner_id, build_id, name, instrument, note, file_name, sha256, size, taken_at, taken_by)
            values (@Id, @OrganisationId, @BuildId, @Name, @Instrument, @Note, @FileName, @Sha256, @Size, @Now, @PersonId)
            on conflict (build_id, name) do update set instrument = excluded.instrument, note = excluded.note, file_name = excluded.file_name,
                   sha256 = excluded.sha256, size = excluded.size, taken_at = excluded.taken_at, taken_by = excluded.taken_by, row_version = survey.row_version + 1
            returning id
            """;

        private const string Clear = "delete from survey_point where survey_id = @id";

        private const string Insert = """
            insert into survey_point (survey_id, owner_id, ordinal, name, x_mm, y_mm, z_mm, diameter_mm, slot_length_mm, slot_degrees, uncertainty_mm, note)
            select @id, @OrganisationId, n, name, x, y, z, diameter, slot, degrees, u, note
            from unnest(@Names, @Xs, @Ys, @Zs, @Diameters, @Slots, @Degrees, @Us, @Notes) with ordinality
                 as p (name, x, y, z, diameter, slot, degrees, u, note, n)
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, Stream content, string fileName, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteJoints, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ValueAsync<Guid?>(Build, new { request.BuildId }) is null)
                return new Outcome.NotFound();
            StoredFile kept;
            try
            {
                kept = await files.SaveAsync(content, fileName, FileRule.Measurements, cancellation);
            }
            catch (FileRefused refused)
            {
                return new Outcome.Refused(refused.Message);
            }

            await using var stored = files.OpenRead(kept.Sha256);
            var read = SurveyFile.Read(stored, FileNames.Safe(fileName));
            if (read.Problems.Any(problem => problem.Severity == Severity.Refuse))
                return new Outcome.Wrong(read.Problems);

            var named = string.IsNullOrWhiteSpace(request.Instrument) ? read.Instrument : request.Instrument.Trim();
            // A point without an uncertainty takes that of the instrument, as a measured value does.
            var instrument = (await InstrumentBook.OfAsync(work)).Find(named) is { Unit: "mm" } row ? row.ToInstrument() : null;
            decimal? Uncertainty(SurveyPoint point) =>
                point.Uncertainty ?? instrument?.ExpandedUncertaintyAt(Math.Max(Math.Abs(point.X), Math.Abs(point.Y)));
            var now = clock.GetUtcNow();
            var fresh = Guid.CreateVersion7(now);
            var id = await work.ValueAsync<Guid>(Upsert, new
            {
                Id = fresh,
                actor.OrganisationId,
                request.BuildId,
                Name = request.Name!.Trim(),
                Instrument = named,
                Note = request.Note?.Trim() ?? "",
                FileName = FileNames.Safe(fileName),
                kept.Sha256,
                kept.Size,
                Now = now,
                actor.PersonId,
            });
            await work.ExecuteAsync(Clear, new { id });
            await work.ExecuteAsync(Insert, new
            {
                id,
                actor.OrganisationId,
                Names = read.Points.Select(point => point.Name).ToArray(),
                Xs = read.Points.Select(point => point.X).ToArray(),
                Ys = read.Points.Select(point => point.Y).ToArray(),
                Zs = read.Points.Select(point => point.Z).ToArray(),
                Diameters = read.Points.Select(point => point.Diameter).ToArray(),
                Slots = read.Points.Select(point => point.SlotLength).ToArray(),
                Degrees = read.Points.Select(point => point.SlotDegrees).ToArray(),
                Us = read.Points.Select(Uncertainty).ToArray(),
                Notes = read.Points.Select(point => point.Note).ToArray(),
            });
            await work.ExecuteAsync("select ask_recheck('re-check a build', @BuildId, @now)", new { request.BuildId, now });
            await work.CommitAsync();
            return new Outcome.Kept(id, read.Points.Count, id != fresh);
        }
    }
}
