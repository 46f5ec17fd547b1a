using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using Microsoft.AspNetCore.Identity;
using Npgsql;

namespace FabLink.Portal.Features.Demo;

/// <summary>The invented organisations and people of the demo. They are written by the owner of the database, as no actor exists before them.</summary>
public sealed record DemoPeople(Actor Engineer, Actor Buyer, Actor HolmLane, Actor Dunlin, Actor Teal)
{
    /// <summary>One password for all of them: it is a demo, and it is printed at the start.</summary>
    public const string Password = "reeds and mud 02";

    private static readonly (string Organisation, string Kind, string Name, string Role, string Email)[] _people =
    [
        ("Saltmarsh Works", "build shop", "Mara Quill", "engineer", "mara@saltmarsh.example"),
        ("Saltmarsh Works", "build shop", "Edda Finch", "buyer", "edda@saltmarsh.example"),
        ("Holm Lane Fabrication", "fabricator", "Joss Harrow", "fabricator", "joss@holmlane.example"),
        ("Dunlin Profile & Weld", "fabricator", "Wren Tully", "fabricator", "wren@dunlin.example"),
        ("Teal Coatings", "coater", "Ivo Sedge", "coater", "ivo@teal.example"),
    ];

    public static string SignIns(string address) =>
        $"Sign in at {address}/sign-in with the password '{Password}':\n"
        + string.Join('\n', _people.Select(person => $"  {person.Email,-26}{person.Name}, {person.Role} at {person.Organisation}"))
        + $"\nMail of the demo: {address}/demo/mail\n";

    public static async Task<DemoPeople> WriteAsync(string ownerConnectionString, DateTimeOffset at, CancellationToken cancellation)
    {
        const string Organisation = "insert into organisation (id, name, kind, created_at) values (@Id, @Name, @Kind, @At)";
        const string Supplier = "insert into supplier (owner_id, organisation_id) values (@Owner, @Id)";
        const string Person = "insert into person (id, organisation_id, name, roles, created_at) values (@Id, @OrganisationId, @Name, @Roles, @At)";
        const string Credential = """
            insert into credential (person_id, organisation_id, email, password_hash, security_stamp) values (@Id, @OrganisationId, @Email, @Hash, @Stamp)
            """;
        await using var source = NpgsqlDataSource.Create(ownerConnectionString);
        await using var connection = await source.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        var hasher = new PasswordHasher<SignInPerson>();
        var organisations = new Dictionary<string, Guid>();
        var actors = new List<Actor>();
        foreach (var (organisation, kind, name, role, email) in _people)
        {
            if (!organisations.TryGetValue(organisation, out var organisationId))
            {
                organisations[organisation] = organisationId = Guid.CreateVersion7(at);
                await connection.ExecuteAsync(Organisation, new { Id = organisationId, Name = organisation, Kind = kind, At = at });
                if (kind != "build shop")
                    await connection.ExecuteAsync(Supplier, new { Owner = actors[0].OrganisationId, Id = organisationId });
            }
            var id = Guid.CreateVersion7(at);
            await connection.ExecuteAsync(Person, new { Id = id, OrganisationId = organisationId, Name = name, Roles = new[] { role }, At = at });
            await connection.ExecuteAsync(Credential, new
            {
                Id = id,
                OrganisationId = organisationId,
                Email = email,
                Hash = hasher.HashPassword(new SignInPerson(), Password),
                Stamp = Guid.NewGuid().ToString("n"),
            });
            actors.Add(new Actor(id, organisationId, name, organisation, kind, Actor.ParseRoles([role])));
        }
        await transaction.CommitAsync(cancellation);
        return new DemoPeople(actors[0], actors[1], actors[2], actors[3], actors[4]);
    }

    public static async Task<bool> AnyAsync(string ownerConnectionString, CancellationToken cancellation)
    {
        await using var source = NpgsqlDataSource.Create(ownerConnectionString);
        await using var connection = await source.OpenConnectionAsync(cancellation);
        return await connection.ExecuteScalarAsync<bool>("select exists (select 1 from organisation)");
    }
}
