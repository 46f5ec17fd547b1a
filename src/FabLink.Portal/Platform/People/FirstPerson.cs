using Dapper;
using Npgsql;

namespace FabLink.Portal.Platform.People;

/// <summary>
/// The way into an empty portal: settings <c>First:Organisation</c>, <c>First:Name</c> and <c>First:Email</c> make the build shop and its first
/// person, an engineer and buyer in one, who gets a sign-in link by mail. Does nothing once anybody is there.
/// </summary>
public static class FirstPerson
{
    public static async Task EnsureAsync(IConfiguration configuration, string ownerConnectionString, TimeProvider clock, CancellationToken cancellation)
    {
        const string Insert = """
            with shop as (
                insert into organisation (id, name, kind, created_at) select @organisation, @shop, 'build shop', @now
                where not exists (select 1 from organisation) returning id
            ), first as (
                insert into person (id, organisation_id, name, roles, created_at)
                select @person, id, @name, array['engineer', 'buyer'], @now from shop returning id, organisation_id
            ), credential as (
                insert into credential (person_id, organisation_id, email, security_stamp) select id, organisation_id, lower(@email), @stamp from first
            )
            insert into outbox (id, kind, subject_id, detail, created_at, next_try_at, message_id)
            select @mail, 'mail a sign-in link', id, '/', @now, @now, '<' || @mail || '@fablink.invalid>' from first
            """;
        var (shop, name, email) = (configuration["First:Organisation"], configuration["First:Name"], configuration["First:Email"]);
        if (string.IsNullOrWhiteSpace(shop) || string.IsNullOrWhiteSpace(name) || string.IsNullOrWhiteSpace(email))
            return;
        var now = clock.GetUtcNow();
        await using var source = NpgsqlDataSource.Create(ownerConnectionString);
        await using var connection = await source.OpenConnectionAsync(cancellation);
        await connection.ExecuteAsync(new CommandDefinition(
            Insert,
            new
            {
                organisation = Guid.CreateVersion7(now),
                shop = shop.Trim(),
                person = Guid.CreateVersion7(now),
                name = name.Trim(),
                email = email.Trim(),
                stamp = Guid.NewGuid().ToString("n"),
                mail = Guid.CreateVersion7(now),
                now,
            },
            cancellationToken: cancellation));
    }
}
