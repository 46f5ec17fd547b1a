using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.Instruments;

/// <summary>Adds an instrument to the book of one's organisation, changes one, or takes one out of use.</summary>
public static class KeepInstrument
{
    /// <param name="Id">Null for a new one.</param>
    /// <param name="Unit">mm, or deg for one that measures angles.</param>
    public sealed record Request(
        Guid? Id,
        int RowVersion,
        string? Name,
        string? Kind,
        string? Unit,
        decimal? Resolution,
        decimal? Uncertainty,
        decimal? UncertaintyPerMetre,
        DateOnly? CalibrationDue);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Name).NotEmpty().WithMessage("Give it the name that is marked on it.").MaximumLength(80);
            RuleFor(request => request.CalibrationDue).WithinReason();
            RuleFor(request => request.Kind).Must(kind => InstrumentBook.Kinds.Any(one => one.Word == kind)).WithMessage("Choose what it is.");
            RuleFor(request => request.Unit).Must(unit => unit is "mm" or "deg").WithMessage("It measures lengths in mm or angles in degrees.");
            RuleFor(request => request.Resolution).NotNull().WithMessage("Say its smallest step, such as 0.01.").GreaterThan(0).WithMessage("Its smallest step is more than nothing.");
            RuleFor(request => request.Uncertainty).NotNull().WithMessage("Say its expanded uncertainty (k = 2), such as 0.03.")
                .Must((request, u) => u > 0 || (u == 0 && request.UncertaintyPerMetre > 0)).WithMessage("No instrument is without uncertainty: its expanded uncertainty (k = 2) is more than nothing.");
            RuleFor(request => request.Uncertainty).Must((request, u) => u is null or 0 || request.Resolution is not > 0 || u >= request.Resolution / 10)
                .WithMessage("That is finer than a tenth of its smallest step: nobody can read it so.");
            RuleFor(request => request.Resolution).LessThanOrEqualTo(1000).WithMessage("At most 1000.");
            RuleFor(request => request.Uncertainty).LessThanOrEqualTo(1000).WithMessage("At most 1000.");
            RuleFor(request => request.UncertaintyPerMetre).LessThanOrEqualTo(1000).WithMessage("At most 1000.");
            RuleFor(request => request.UncertaintyPerMetre).GreaterThanOrEqualTo(0).WithMessage("It is zero or more.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Kept(string Name) : Outcome;

        public sealed record NameTaken(string Name) : Outcome;

        public sealed record Stale : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Insert = """
            insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty, uncertainty_per_metre, calibration_due)
            values (@Id, @OrganisationId, @Name, @Kind, @Unit, @Resolution, @Uncertainty, @UncertaintyPerMetre, @CalibrationDue)
            on conflict (organisation_id, name) do nothing
            """;

        private const string Update = """
            update instrument set name = @Name, kind = @Kind, unit = @Unit, resolution = @Resolution, uncertainty = @Uncertainty,
                   uncertainty_per_metre = @UncertaintyPerMetre, calibration_due = @CalibrationDue, row_version = row_version + 1
            where id = @Id and row_version = @RowVersion
            """;

        private const string Exists = "select exists (select 1 from instrument where id = @Id)";
        private const string Taken = "select exists (select 1 from instrument where name = @Name and id is distinct from @Id::uuid)";
        private const string Withdraw = "update instrument set withdrawn_at = @now, row_version = row_version + 1 where id = @id and withdrawn_at is null";

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.KeepInstruments, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            var row = new
            {
                Id = request.Id ?? Guid.CreateVersion7(clock.GetUtcNow()),
                request.RowVersion,
                actor.OrganisationId,
                Name = request.Name!.Trim(),
                request.Kind,
                request.Unit,
                request.Resolution,
                request.Uncertainty,
                UncertaintyPerMetre = request.UncertaintyPerMetre ?? 0,
                request.CalibrationDue,
            };
            if (await work.ValueAsync<bool>(Taken, new { row.Name, request.Id }))
                return new Outcome.NameTaken(row.Name);
            if (request.Id is not null && !await work.ValueAsync<bool>(Exists, new { row.Id }))
                return new Outcome.NotFound();
            if (await work.ExecuteAsync(request.Id is null ? Insert : Update, row) == 0)
                return request.Id is null ? new Outcome.NameTaken(row.Name) : new Outcome.Stale();
            await work.CommitAsync();
            return new Outcome.Kept(row.Name);
        }

        public async Task<Outcome> WithdrawAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            if (!actor.May(Deed.KeepInstruments, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ExecuteAsync(Withdraw, new { id, now = clock.GetUtcNow() }) == 0)
                return new Outcome.NotFound();
            await work.CommitAsync();
            return new Outcome.Kept("");
        }
    }
}
