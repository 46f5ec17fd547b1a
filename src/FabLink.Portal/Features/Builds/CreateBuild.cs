using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Builds;

/// <summary>The build shop names a machine that it is going to put together.</summary>
public static class CreateBuild
{
    public sealed record Request(string Number, string Name);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Number).NotEmpty().WithMessage("Give the build a number, such as RH-02.").MaximumLength(40);
            RuleFor(request => request.Name).NotEmpty().WithMessage("Say in a few words what is built.").MaximumLength(200);
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Created(Guid Id) : Outcome;

        public sealed record NumberTaken(string Number) : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Insert = """
            insert into build (id, owner_id, number, name, created_at, created_by)
            values (@Id, @OrganisationId, @Number, @Name, @Now, @PersonId)
            on conflict (owner_id, number) do nothing
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteBuilds, Relation.Own))
                return new Outcome.NotAllowed();
            var id = Guid.CreateVersion7(clock.GetUtcNow());
            await using var work = await database.BeginAsync(actor, cancellation);
            var inserted = await work.ExecuteAsync(Insert, new
            {
                Id = id,
                actor.OrganisationId,
                Number = request.Number.Trim(),
                Name = request.Name.Trim(),
                Now = clock.GetUtcNow(),
                actor.PersonId,
            });
            if (inserted == 0)
                return new Outcome.NumberTaken(request.Number);
            await work.CommitAsync();
            return new Outcome.Created(id);
        }
    }
}
