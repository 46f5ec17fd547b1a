using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Drawings;

/// <summary>A further drawing of a part that is there: the drawing and its revision A.</summary>
public static class CreateDrawing
{
    public sealed record Request(
        Guid PartId,
        string? Number,
        string? Title,
        bool Welded = false,
        string? Unit = "mm",
        string? GeneralTolerance = null);

    /// <summary>What the title block of a revision says about all its dimensions.</summary>
    internal sealed record Terms(string? Unit, string? GeneralTolerance, bool Welded);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Number).NotEmpty().WithMessage("Give the drawing a number.").MaximumLength(40);
            RuleFor(request => request.Title).NotEmpty().WithMessage("Give the drawing its title.").MaximumLength(200);
            RuleFor(request => request.Unit).Must(unit => string.IsNullOrEmpty(unit) || RevisionRow.IsUnit(unit)).WithMessage("A drawing is in mm or in inches (in).");
            RuleFor(request => request.GeneralTolerance).Must(RevisionRow.IsGeneralTolerance)
                .WithMessage("That is not a general tolerance such as ISO 2768-m, ISO 2768-mK or ISO 13920-BF.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Created(Guid DrawingId, Guid RevisionId) : Outcome;

        public sealed record NumberTaken(string Number) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string SelectPart = """
            select count(*) from part where id = @PartId and owner_id = @OrganisationId
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ValueAsync<long>(SelectPart, new { request.PartId, actor.OrganisationId }) == 0)
                return new Outcome.NotFound();
            var terms = new Terms(request.Unit, request.GeneralTolerance, request.Welded);
            if (await InsertAsync(work, clock.GetUtcNow(), request.PartId, request.Number!.Trim(), request.Title!.Trim(), terms) is not { } ids)
                return new Outcome.NumberTaken(request.Number.Trim());
            await work.CommitAsync();
            return new Outcome.Created(ids.Drawing, ids.Revision);
        }
    }

    private const string InsertDrawing = """
        insert into drawing (id, owner_id, part_id, number, title, created_at, created_by)
        values (@Drawing, @OrganisationId, @part, @number, @title, @now, @PersonId)
        on conflict (owner_id, number) do nothing
        """;

    private const string InsertRevision = """
        insert into revision (id, owner_id, drawing_id, part_id, letter, unit, general_tolerance, welded, created_at, created_by)
        values (@Revision, @OrganisationId, @Drawing, @part, @Letter, @Unit, @GeneralTolerance, @Welded, @now, @PersonId)
        """;

    /// <summary>Null when the number is taken.</summary>
    internal static async Task<(Guid Drawing, Guid Revision)?> InsertAsync(
        Work work, DateTimeOffset now, Guid part, string number, string title, Terms terms)
    {
        var args = new
        {
            Drawing = Guid.CreateVersion7(now),
            Revision = Guid.CreateVersion7(now),
            work.Actor.OrganisationId,
            work.Actor.PersonId,
            part,
            number,
            title,
            now,
            Letter = RevisionLetter.First,
            Unit = string.IsNullOrEmpty(terms.Unit) ? "mm" : terms.Unit,
            GeneralTolerance = RevisionRow.Spelled(terms.GeneralTolerance),
            terms.Welded,
        };
        if (await work.ExecuteAsync(InsertDrawing, args) == 0)
            return null;
        await work.ExecuteAsync(InsertRevision, args);
        return (args.Drawing, args.Revision);
    }
}
