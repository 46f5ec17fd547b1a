using Dapper;
using FabLink.Portal.Platform.People;
using Npgsql;

namespace FabLink.Portal.Tests.Drawings;

/// <summary>A build shop with an engineer and a buyer, two fabricators and a coater it works with, and somebody else's build shop.</summary>
public sealed record Cast(Actor Engineer, Actor Buyer, Actor Fabricator, Actor Rival, Actor Coater, Actor OtherEngineer)
{
    public const string Password = "reed harvester two";

    /// <param name="owner">Connects past every policy.</param>
    /// <param name="passwordHash">Of <see cref="Password"/>; null when nobody signs in.</param>
    public static async Task<Cast> SeedAsync(string owner, string? passwordHash = null)
    {
        await using var connection = new NpgsqlConnection(owner);
        var cast = new Cast(
            await PersonAsync("Saltmarsh Works", "build shop", "Mara Quill", Roles.Engineer),
            await PersonAsync("Saltmarsh Works", "build shop", "Odo Reeve", Roles.Buyer),
            await PersonAsync("Holm Lane Fabrication", "fabricator", "Ines Holm", Roles.Fabricator),
            await PersonAsync("Dunlin Profile & Weld", "fabricator", "Bram Dunlin", Roles.Fabricator),
            await PersonAsync("Teal Coatings", "coater", "Kit Teal", Roles.Coater),
            await PersonAsync("Otter Machines", "build shop", "Finn Otter", Roles.Engineer));
        foreach (var outside in new[] { cast.Fabricator, cast.Rival, cast.Coater })
        {
            await connection.ExecuteAsync(
                "insert into supplier (owner_id, organisation_id) values (@shop, @outside)",
                new { shop = cast.Engineer.OrganisationId, outside = outside.OrganisationId });
        }

        return cast;

        async Task<Actor> PersonAsync(string organisation, string kind, string name, Roles role)
        {
            var organisationId = await connection.ExecuteScalarAsync<Guid>(
                """
                with made as (insert into organisation (id, name, kind, created_at) values (@id, @organisation, @kind, now()) on conflict (name) do nothing returning id)
                select id from made union all select id from organisation where name = @organisation
                """,
                new { id = Guid.CreateVersion7(), organisation, kind });
            var actor = new Actor(Guid.CreateVersion7(), organisationId, name, organisation, kind, role);
            await connection.ExecuteAsync(
                """
                insert into person (id, organisation_id, name, roles, created_at) values (@PersonId, @OrganisationId, @Name, @roles, now());
                insert into credential (person_id, organisation_id, email, password_hash, security_stamp)
                values (@PersonId, @OrganisationId, @email, @passwordHash, 'first')
                """,
                new { actor.PersonId, actor.OrganisationId, actor.Name, roles = new[] { role.ToString().ToLowerInvariant() }, email = EmailOf(actor), passwordHash });
            return actor;
        }
    }

    public static string EmailOf(Actor actor) => $"{actor.Name.Split(' ')[0].ToLowerInvariant()}@{actor.OrganisationName.Split(' ')[0].ToLowerInvariant()}.example";
}
