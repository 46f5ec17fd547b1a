using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;
using Npgsql;

namespace FabLink.Portal.Features.People;

/// <summary>Who belongs to one's organisation: a colleague is added with a mail address and gets a link; somebody who left is shut out at once.</summary>
public static class KeepPeople
{
    public sealed record Row(Guid Id, string Name, string[] Roles, string? Email, DateTimeOffset? LeftAt);

    public sealed record ShopRow(Guid Id, string Name, string Kind, string[] People);

    public sealed record Page(IReadOnlyList<Row> People, IReadOnlyList<ShopRow> Shops, IReadOnlyList<string> Roles, string? Zone, bool MayTakeOnShops, bool IsBuildShop);

    /// <param name="Role">One of the roles of the organisation's kind.</param>
    public sealed record Request(string? Name, string? Email, string? Role);

    /// <param name="Kind">fabricator or coater.</param>
    public sealed record ShopRequest(string? Shop, string? Kind, string? Name, string? Email);

    /// <param name="Zone">IANA name; empty leaves it to the portal's setting.</param>
    public sealed record ZoneRequest(string? Zone);

    public sealed class ZoneValidator : AbstractValidator<ZoneRequest>
    {
        public ZoneValidator() => RuleFor(request => request.Zone).Must(zone => string.IsNullOrWhiteSpace(zone) || LocalTime.Find(zone) is not null)
            .WithMessage("That is no time zone; give its IANA name, such as Europe/Lisbon or America/Halifax.");
    }

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.Name).NotEmpty().WithMessage("Give the name.").MaximumLength(120);
            RuleFor(request => request.Email).EmailAddress().WithMessage("That is not a mail address.").MaximumLength(254);
            RuleFor(request => request.Email).NotEmpty().WithMessage("Give the mail address; the link to sign in goes there.");
            RuleFor(request => request.Role).Must(role => role is "engineer" or "buyer" or "fabricator" or "coater").WithMessage("Choose what they do.");
        }
    }

    public sealed class ShopValidator : AbstractValidator<ShopRequest>
    {
        public ShopValidator()
        {
            RuleFor(request => request.Shop).NotEmpty().WithMessage("Give the name of the shop.").MaximumLength(120);
            RuleFor(request => request.Kind).Must(kind => kind is "fabricator" or "coater").WithMessage("A shop is a fabricator or a coater.");
            RuleFor(request => request.Name).NotEmpty().WithMessage("Name the person you deal with.").MaximumLength(120);
            RuleFor(request => request.Email).EmailAddress().WithMessage("That is not a mail address.").MaximumLength(254);
            RuleFor(request => request.Email).NotEmpty().WithMessage("Give the mail address; the link to sign in goes there.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Done(string Name) : Outcome;

        /// <summary>The name of the shop or the address is used already.</summary>
        public sealed record Taken(string Field, string Sentence) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, SignInLinks links, TimeProvider clock)
    {
        private const string People = """
            select p.id, p.name, p.roles, c.email, p.left_at from person p left join credential c on c.person_id = p.id
            where p.organisation_id = @OrganisationId order by p.left_at is not null, p.name
            """;

        private const string Shops = """
            select o.id, o.name, o.kind, array(select p.name from person p where p.organisation_id = o.id and p.left_at is null order by p.name) as people
            from supplier s join organisation o on o.id = s.organisation_id where s.owner_id = @OrganisationId order by o.name
            """;

        private const string AddPerson = "insert into person (id, organisation_id, name, roles, created_at) values (@id, @OrganisationId, @Name, @Roles, @now)";
        private const string AddCredential = "insert into credential (person_id, organisation_id, email, security_stamp) values (@id, @OrganisationId, @Email, @Stamp)";
        private const string FoundShop = "select found_supplier(@organisation, @Shop, @Kind, @id, @Name, @Email, @Stamp, @now)";
        private const string Leave = "update person set left_at = @now where id = @id and left_at is null and id <> @PersonId";

        public async Task<Page> ReadAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return new Page(
                await work.RowsAsync<Row>(People, new { actor.OrganisationId }),
                await work.RowsAsync<ShopRow>(Shops, new { actor.OrganisationId }),
                Permissions.RolesOf(actor.OrganisationKind),
                await work.ValueAsync<string>("select zone from organisation where id = @OrganisationId", new { actor.OrganisationId }),
                actor.May(Deed.TakeOnShops, Relation.Own),
                actor.IsBuildShop);
        }

        public async Task<Outcome> AddAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.KeepPeople, Relation.Own) || !Permissions.RolesOf(actor.OrganisationKind).Contains(request.Role))
                return new Outcome.NotAllowed();
            var now = clock.GetUtcNow();
            var args = new
            {
                id = Guid.CreateVersion7(now),
                actor.OrganisationId,
                Name = request.Name!.Trim(),
                Roles = new[] { request.Role! },
                Email = Address(request.Email),
                Stamp = Guid.NewGuid().ToString("n"),
                now,
            };
            return await WriteAsync(actor, args.Name, args.Email, async work =>
            {
                await work.ExecuteAsync(AddPerson, args);
                await work.ExecuteAsync(AddCredential, args);
            }, cancellation);
        }

        public async Task<Outcome> TakeOnAsync(Actor actor, ShopRequest request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.TakeOnShops, Relation.Own))
                return new Outcome.NotAllowed();
            var now = clock.GetUtcNow();
            var args = new
            {
                organisation = Guid.CreateVersion7(now),
                Shop = request.Shop!.Trim(),
                request.Kind,
                id = Guid.CreateVersion7(now),
                Name = request.Name!.Trim(),
                Email = Address(request.Email),
                Stamp = Guid.NewGuid().ToString("n"),
                now,
            };
            return await WriteAsync(actor, args.Shop, args.Email, work => work.ExecuteAsync(FoundShop, args), cancellation);
        }

        public async Task<Outcome> LeaveAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            if (!actor.May(Deed.KeepPeople, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ExecuteAsync(Leave, new { id, actor.PersonId, now = clock.GetUtcNow() }) == 0)
                return new Outcome.NotFound();
            await work.CommitAsync();
            return new Outcome.Done("");
        }

        /// <summary>Everybody of the organisation reads times so within two minutes, when their sign-in is looked at again.</summary>
        public async Task<Outcome> ReadTimesInAsync(Actor actor, ZoneRequest request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.KeepPeople, Relation.Own))
                return new Outcome.NotAllowed();
            var zone = LocalTime.Find(request.Zone)?.Id;
            await using var work = await database.BeginAsync(actor, cancellation);
            await work.ExecuteAsync("update organisation set zone = @zone where id = @OrganisationId", new { zone, actor.OrganisationId });
            await work.CommitAsync();
            return new Outcome.Done(zone ?? "");
        }

        private static string Address(string? email) => email!.Trim().ToLowerInvariant();

        private async Task<Outcome> WriteAsync(Actor actor, string name, string email, Func<Work, Task> write, CancellationToken cancellation)
        {
            try
            {
                await using var work = await database.BeginAsync(actor, cancellation);
                await write(work);
                await work.CommitAsync();
            }
            catch (PostgresException taken) when (taken.SqlState == PostgresErrorCodes.UniqueViolation)
            {
                return taken.TableName == "organisation"
                    ? new Outcome.Taken(nameof(ShopRequest.Shop), "A shop of this name is here already.")
                    : new Outcome.Taken(nameof(Request.Email), "Somebody with this address is here already.");
            }
            await links.OweAsync(email, "/", cancellation);
            return new Outcome.Done(name);
        }
    }
}
