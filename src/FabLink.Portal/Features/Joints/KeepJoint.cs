using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Joints;

/// <summary>The engineer says which hole pattern bolts to which pattern or survey, with what film and how much is wanted to spare.</summary>
public static class KeepJoint
{
    /// <param name="Id">Null for a new one.</param>
    /// <param name="Part">Part and pattern as <see cref="JointChoices.PatternChoice.Value"/> has them.</param>
    /// <param name="Mate">The same, or a survey.</param>
    /// <param name="Film">Coating on the part, µm per surface.</param>
    /// <param name="WantedMargin">mm, radial.</param>
    /// <param name="RotationLimit">Degrees either way; empty: the part may turn as it likes.</param>
    public sealed record Request(
        Guid BuildId,
        Guid? Id,
        int RowVersion,
        string? Name,
        string? Part,
        int? Place,
        string? Mate,
        int? MatePlace,
        decimal? Film,
        decimal? MateFilm,
        decimal? WantedMargin,
        decimal? RotationLimit);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Name).NotEmpty().WithMessage("Name the joint, such as cradle to rails.").MaximumLength(80);
            RuleFor(request => request.Part).NotEmpty().WithMessage("Choose the part and its hole pattern.");
            RuleFor(request => request.Mate).NotEmpty().WithMessage("Choose what it bolts to.")
                .Must((request, mate) => mate != request.Part || (request.Place ?? 1) != (request.MatePlace ?? 1)).WithMessage("A piece does not bolt to its own pattern.");
            RuleFor(request => request.Place).InclusiveBetween(1, 500).WithMessage("The first piece of a part in a build is 1.");
            RuleFor(request => request.MatePlace).InclusiveBetween(1, 500).WithMessage("The first piece of a part in a build is 1.");
            RuleFor(request => request.Film).InclusiveBetween(0, 5000).WithMessage("Film is 0 to 5000 µm.");
            RuleFor(request => request.MateFilm).InclusiveBetween(0, 5000).WithMessage("Film is 0 to 5000 µm.");
            RuleFor(request => request.WantedMargin).InclusiveBetween(0, 100).WithMessage("The wanted margin is 0 to 100 mm.");
            RuleFor(request => request.RotationLimit).InclusiveBetween(0, 180).WithMessage("A part turns 0 to 180 degrees either way.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Kept(Guid Id) : Outcome;

        public sealed record NameTaken(string Name) : Outcome;

        public sealed record Unknown(string Field, string Why) : Outcome;

        public sealed record Stale : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public abstract record Removal
    {
        private Removal()
        {
        }

        /// <param name="LetGo">Serials that it held.</param>
        public sealed record Removed(Guid BuildId, IReadOnlyList<string> LetGo) : Removal;

        public sealed record Refused(string Why) : Removal;

        public sealed record NotFound : Removal;
    }

    private const int LongestReason = 1000;

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Build = "select id from build where id = @BuildId for key share";
        private const string Taken = "select exists (select 1 from joint where build_id = @BuildId and name = @Name and id is distinct from @Id::uuid)";
        private const string Exists = "select exists (select 1 from joint where id = @Id and removed_at is null)";

        private const string Insert = """
            insert into joint (id, owner_id, build_id, name, part_id, pattern, place, film_mm, mate_part_id, mate_pattern, mate_place, mate_survey_id, mate_film_mm,
                               wanted_margin_mm, rotation_limit_degrees, created_at, created_by)
            values (@Fresh, @OrganisationId, @BuildId, @Name, @PartId, @Pattern, @Place, @FilmMm, @MatePartId::uuid, @MatePattern, @MatePlace::integer, @MateSurveyId::uuid, @MateFilmMm,
                    @WantedMm, @RotationLimit, @now, @PersonId)
            on conflict do nothing
            """;

        private const string Update = """
            update joint set name = @Name, part_id = @PartId, pattern = @Pattern, place = @Place, film_mm = @FilmMm, mate_part_id = @MatePartId::uuid,
                   mate_pattern = @MatePattern, mate_place = @MatePlace::integer, mate_survey_id = @MateSurveyId::uuid, mate_film_mm = @MateFilmMm,
                   wanted_margin_mm = @WantedMm, rotation_limit_degrees = @RotationLimit, row_version = row_version + 1
            where id = @Id and build_id = @BuildId and row_version = @RowVersion and removed_at is null
            """;

        private const string Remove = """
            update joint set removed_at = @now, removed_by = @PersonId, name = name || ' (removed ' || to_char(@now at time zone 'UTC', 'YYYY-MM-DD HH24:MI:SS') || ')', row_version = row_version + 1
            where id = @id and removed_at is null returning build_id
            """;

        private const string Holds = "select exists (select 1 from joint_hold where joint_id = @id and lifted_at is null)";

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteJoints, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ValueAsync<Guid?>(Build, new { request.BuildId }) is null)
                return new Outcome.NotFound();
            if (request.Id is not null && !await work.ValueAsync<bool>(Exists, new { request.Id }))
                return new Outcome.NotFound();
            var choices = await JointChoices.OfAsync(work, request.BuildId);
            if (choices.Patterns.FirstOrDefault(one => one.Value == request.Part) is not { } part)
                return new Outcome.Unknown(nameof(request.Part), "That pattern is not on the newest drawing of the part any more; choose again.");
            var mate = choices.Patterns.FirstOrDefault(one => one.Value == request.Mate);
            var survey = choices.Surveys.FirstOrDefault(one => one.Value == request.Mate);
            if (mate is null && survey is null)
                return new Outcome.Unknown(nameof(request.Mate), "That is neither a hole pattern nor a survey of this build any more; choose again.");
            if (await work.ValueAsync<bool>(Taken, new { request.BuildId, Name = request.Name!.Trim(), request.Id }))
                return new Outcome.NameTaken(request.Name.Trim());

            var now = clock.GetUtcNow();
            var fresh = Guid.CreateVersion7(now);
            var written = await work.ExecuteAsync(request.Id is null ? Insert : Update, new
            {
                Fresh = fresh,
                request.Id,
                request.RowVersion,
                actor.OrganisationId,
                request.BuildId,
                Name = request.Name.Trim(),
                part.PartId,
                part.Pattern,
                Place = request.Place ?? 1,
                FilmMm = (request.Film ?? 0) / 1000,
                MatePartId = mate?.PartId,
                MatePattern = mate?.Pattern,
                MatePlace = mate is null ? (int?)null : request.MatePlace ?? 1,
                MateSurveyId = survey?.Id,
                MateFilmMm = (request.MateFilm ?? 0) / 1000,
                WantedMm = request.WantedMargin ?? 0.1m,
                RotationLimit = request.RotationLimit ?? 180,
                now,
                actor.PersonId,
            });
            if (written == 0)
                return request.Id is null ? new Outcome.NameTaken(request.Name.Trim()) : new Outcome.Stale();
            await work.ExecuteAsync("select ask_recheck('re-check a joint', @id, @now)", new { id = request.Id ?? fresh, now });
            await work.CommitAsync();
            return new Outcome.Kept(request.Id ?? fresh);
        }

        /// <summary>Takes a joint out of the build; what it held is let go for a reason that the shop is told, and its history stays.</summary>
        /// <param name="reason">Needed while the joint holds a piece.</param>
        public async Task<Removal> RemoveAsync(Actor actor, Guid id, string? reason, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteJoints, Relation.Own))
                return new Removal.NotFound();
            await using var work = await database.BeginAsync(actor, cancellation);
            var now = clock.GetUtcNow();
            if (await work.ValueAsync<Guid?>(Remove, new { id, now, actor.PersonId }) is not { } build)
                return new Removal.NotFound();
            var why = reason?.Trim() ?? "";
            var holds = await work.ValueAsync<bool>(Holds, new { id });
            if (why.Length > LongestReason)
                return new Removal.Refused($"At most {LongestReason} characters.");
            if (holds && why.Length == 0)
                return new Removal.Refused("Say why the joint goes although it holds a piece.");
            var serials = holds ? await ShowJoint.Handler.LetGoAsync(work, now, id, $"the joint was removed: {why}", $"{actor.Name} took its joint out of the build: {why}") : [];
            await work.CommitAsync();
            return new Removal.Removed(build, serials);
        }
    }
}
