using System.Buffers.Text;
using System.Security.Cryptography;
using System.Text;
using Dapper;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Platform.People;

/// <summary>
/// Links in mails that sign one person in on one device. Only a SHA-256 of the token is kept; the token itself exists in the mail alone,
/// works once and for <see cref="GoodFor"/>.
/// </summary>
public sealed class SignInLinks(DataSources sources, TimeProvider clock)
{
    public static readonly TimeSpan GoodFor = TimeSpan.FromDays(14);

    public sealed record Opened(Guid PersonId, string Path);

    /// <summary>Makes a link for a mail that is about to be sent. Runs as the jobs role.</summary>
    /// <param name="path">Where the person lands; begins with a slash.</param>
    /// <returns>The token, to be put after <c>/sign-in/link/</c>.</returns>
    public async Task<string> MakeAsync(Guid personId, string path, CancellationToken cancellation)
    {
        const string Insert = """
            insert into sign_in_link (token_hash, person_id, path, created_at, expires_at) values (@Hash, @personId, @path, @Now, @Expires)
            """;
        var token = Base64Url.EncodeToString(RandomNumberGenerator.GetBytes(32));
        var now = clock.GetUtcNow();
        await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
        await connection.ExecuteAsync(new CommandDefinition(
            Insert, new { Hash = HashOf(token), personId, path, Now = now, Expires = now + GoodFor }, cancellationToken: cancellation));
        return token;
    }

    /// <summary>What a token would open, without using it up: mail scanners look at links before people do.</summary>
    public Task<Opened?> LookAsync(string token, CancellationToken cancellation) =>
        AskAsync("select person_id, path from sign_in_link where token_hash = @Hash and used_at is null and expires_at > @Now", token, cancellation);

    /// <summary>Whose a token is or was, used and over as well; it signs nobody in.</summary>
    public Task<Opened?> OfAsync(string token, CancellationToken cancellation) =>
        AskAsync("select person_id, path from sign_in_link where token_hash = @Hash", token, cancellation);

    /// <summary>Uses a token up; null when it was used, has expired or never was.</summary>
    public Task<Opened?> UseAsync(string token, CancellationToken cancellation) =>
        AskAsync(
            "update sign_in_link set used_at = @Now where token_hash = @Hash and used_at is null and expires_at > @Now returning person_id, path",
            token,
            cancellation);

    /// <summary>Owes a person a fresh link by mail. Says nothing about whether the address is known.</summary>
    public async Task OweAsync(string email, string path, CancellationToken cancellation)
    {
        const string Insert = """
            insert into outbox (id, kind, subject_id, detail, created_at, next_try_at, message_id)
            select @Id, 'mail a sign-in link', c.person_id, @path, @Now, @Now, '<' || @Id || '@fablink.invalid>'
            from credential c join person p on p.id = c.person_id where c.email = lower(@email) and p.left_at is null
            """;
        var now = clock.GetUtcNow();
        await using var connection = await sources.SignIn.OpenConnectionAsync(cancellation);
        await connection.ExecuteAsync(new CommandDefinition(
            Insert, new { Id = Guid.CreateVersion7(now), email = email.Trim(), path, Now = now }, cancellationToken: cancellation));
    }

    private async Task<Opened?> AskAsync(string sql, string token, CancellationToken cancellation)
    {
        await using var connection = await sources.SignIn.OpenConnectionAsync(cancellation);
        return await connection.QuerySingleOrDefaultAsync<Opened>(new CommandDefinition(
            sql, new { Hash = HashOf(token), Now = clock.GetUtcNow() }, cancellationToken: cancellation));
    }

    private static byte[] HashOf(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));
}
