using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer begins a part: the part, its drawing and revision A in one go.</summary>
public static class CreatePart
{
    /// <param name="Hand">left, right or nothing.</param>
    /// <param name="DrawingNumber">Empty: the number of the part.</param>
    /// <param name="Title">Empty: the name of the part.</param>
    /// <param name="Unit">mm or in; empty: mm.</param>
    /// <param name="GeneralTolerance">Such as ISO 2768-mK or ISO 13920-BF.</param>
    public sealed record Request(
        string? Number,
        string? Name,
        string? Hand = null,
        string? DrawingNumber = null,
        string? Title = null,
        bool Welded = false,
        string? Unit = "mm",
        string? GeneralTolerance = null)
    {
        internal string Numbered => Number!.Trim();

        internal string Drawn => string.IsNullOrWhiteSpace(DrawingNumber) ? Numbered : DrawingNumber.Trim();
    }

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Number).NotEmpty().WithMessage("Give the part a number, such as RH-110.").MaximumLength(40);
            RuleFor(request => request.Name).NotEmpty().WithMessage("Say in a few words what the part is.").MaximumLength(200);
            RuleFor(request => request.Hand).Must(hand => string.IsNullOrEmpty(hand) || hand is "left" or "right").WithMessage("A hand is left or right.");
            RuleFor(request => request.DrawingNumber).MaximumLength(40);
            RuleFor(request => request.Title).MaximumLength(200);
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

        public sealed record Created(Guid PartId, Guid DrawingId, Guid RevisionId) : Outcome;

        public sealed record PartNumberTaken(Guid PartId, string Number) : Outcome;

        public sealed record DrawingNumberTaken(string Number) : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Insert = """
            insert into part (id, owner_id, number, name, hand, created_at, created_by)
            values (@Id, @OrganisationId, @Number, @Name, @Hand, @Now, @PersonId)
            on conflict (owner_id, number) do nothing
            """;

        private const string SelectTaken = """
            select id from part where owner_id = @OrganisationId and number = @Number
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteDrawings, Relation.Own))
                return new Outcome.NotAllowed();
            var now = clock.GetUtcNow();
            var part = Guid.CreateVersion7(now);
            await using var work = await database.BeginAsync(actor, cancellation);
            var inserted = await work.ExecuteAsync(Insert, new
            {
                Id = part,
                actor.OrganisationId,
                Number = request.Numbered,
                Name = request.Name!.Trim(),
                Hand = string.IsNullOrEmpty(request.Hand) ? null : request.Hand,
                Now = now,
                actor.PersonId,
            });
            if (inserted == 0)
            {
                var taken = await work.ValueAsync<Guid>(SelectTaken, new { actor.OrganisationId, Number = request.Numbered });
                return new Outcome.PartNumberTaken(taken, request.Numbered);
            }

            var title = string.IsNullOrWhiteSpace(request.Title) ? request.Name!.Trim() : request.Title.Trim();
            var terms = new CreateDrawing.Terms(request.Unit, request.GeneralTolerance, request.Welded);
            if (await CreateDrawing.InsertAsync(work, now, part, request.Drawn, title, terms) is not { } ids)
                return new Outcome.DrawingNumberTaken(request.Drawn);
            await work.CommitAsync();
            return new Outcome.Created(part, ids.Drawing, ids.Revision);
        }
    }
}
