using Dapper;
using FabLink.Portal.Platform.Database;
using Microsoft.AspNetCore.Identity;

namespace FabLink.Portal.Platform.People;

/// <summary>
/// ASP.NET Core Identity on our tables, as the role that signs people in. It changes credentials and nothing else:
/// people are made by their organisation (see Features/People).
/// </summary>
public sealed class PersonStore(DataSources sources)
    : IUserPasswordStore<SignInPerson>, IUserEmailStore<SignInPerson>, IUserLockoutStore<SignInPerson>, IUserSecurityStampStore<SignInPerson>
{
    private const string Select = """
        select p.id, p.organisation_id, p.name, o.name as organisation_name, o.kind as organisation_kind, o.zone, p.roles,
               c.email, c.password_hash, c.security_stamp, c.access_failed_count, c.lockout_end
        from credential c join person p on p.id = c.person_id join organisation o on o.id = p.organisation_id
        where p.left_at is null and
        """;

    public async Task<SignInPerson?> FindByIdAsync(string userId, CancellationToken cancellationToken) =>
        Guid.TryParse(userId, out var id) ? await FindAsync(Select + " p.id = @id", new { id }, cancellationToken) : null;

    public Task<SignInPerson?> FindByNameAsync(string normalizedUserName, CancellationToken cancellationToken) =>
        FindByEmailAsync(normalizedUserName, cancellationToken);

    public Task<SignInPerson?> FindByEmailAsync(string normalizedEmail, CancellationToken cancellationToken) =>
        FindAsync(Select + " c.email = lower(@normalizedEmail)", new { normalizedEmail }, cancellationToken);

    public async Task<IdentityResult> UpdateAsync(SignInPerson user, CancellationToken cancellationToken)
    {
        const string Update = """
            update credential set password_hash = @PasswordHash, security_stamp = @SecurityStamp,
                                  access_failed_count = @AccessFailedCount, lockout_end = @LockoutEnd
            where person_id = @Id
            """;
        await using var connection = await sources.SignIn.OpenConnectionAsync(cancellationToken);
        var touched = await connection.ExecuteAsync(new CommandDefinition(Update, user, cancellationToken: cancellationToken));
        return touched == 1 ? IdentityResult.Success : IdentityResult.Failed(new IdentityError { Code = "Gone", Description = "This person is no longer here." });
    }

    public Task<IdentityResult> CreateAsync(SignInPerson user, CancellationToken cancellationToken) =>
        throw new NotSupportedException("People are made by their organisation.");

    public Task<IdentityResult> DeleteAsync(SignInPerson user, CancellationToken cancellationToken) =>
        throw new NotSupportedException("People leave; they are never deleted.");

    public Task<string> GetUserIdAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(user.Id.ToString());

    public Task<string?> GetUserNameAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult<string?>(user.Email);

    public Task SetUserNameAsync(SignInPerson user, string? userName, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task<string?> GetNormalizedUserNameAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult<string?>(user.Email);

    public Task SetNormalizedUserNameAsync(SignInPerson user, string? normalizedName, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task SetPasswordHashAsync(SignInPerson user, string? passwordHash, CancellationToken cancellationToken)
    {
        user.PasswordHash = passwordHash;
        return Task.CompletedTask;
    }

    public Task<string?> GetPasswordHashAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(user.PasswordHash);

    public Task<bool> HasPasswordAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(user.PasswordHash is not null);

    public Task SetEmailAsync(SignInPerson user, string? email, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task<string?> GetEmailAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult<string?>(user.Email);

    public Task<bool> GetEmailConfirmedAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(true);

    public Task SetEmailConfirmedAsync(SignInPerson user, bool confirmed, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task<string?> GetNormalizedEmailAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult<string?>(user.Email);

    public Task SetNormalizedEmailAsync(SignInPerson user, string? normalizedEmail, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task<DateTimeOffset?> GetLockoutEndDateAsync(SignInPerson user, CancellationToken cancellationToken) =>
        Task.FromResult<DateTimeOffset?>(user.LockoutEnd is { } end ? new DateTimeOffset(DateTime.SpecifyKind(end, DateTimeKind.Utc)) : null);

    public Task SetLockoutEndDateAsync(SignInPerson user, DateTimeOffset? lockoutEnd, CancellationToken cancellationToken)
    {
        user.LockoutEnd = lockoutEnd?.UtcDateTime;
        return Task.CompletedTask;
    }

    public Task<int> IncrementAccessFailedCountAsync(SignInPerson user, CancellationToken cancellationToken) =>
        Task.FromResult(++user.AccessFailedCount);

    public Task ResetAccessFailedCountAsync(SignInPerson user, CancellationToken cancellationToken)
    {
        user.AccessFailedCount = 0;
        return Task.CompletedTask;
    }

    public Task<int> GetAccessFailedCountAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(user.AccessFailedCount);

    public Task<bool> GetLockoutEnabledAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult(true);

    public Task SetLockoutEnabledAsync(SignInPerson user, bool enabled, CancellationToken cancellationToken) => Task.CompletedTask;

    public Task SetSecurityStampAsync(SignInPerson user, string stamp, CancellationToken cancellationToken)
    {
        user.SecurityStamp = stamp;
        return Task.CompletedTask;
    }

    public Task<string?> GetSecurityStampAsync(SignInPerson user, CancellationToken cancellationToken) => Task.FromResult<string?>(user.SecurityStamp);

    public void Dispose()
    {
    }

    private async Task<SignInPerson?> FindAsync(string sql, object args, CancellationToken cancellation)
    {
        await using var connection = await sources.SignIn.OpenConnectionAsync(cancellation);
        return await connection.QuerySingleOrDefaultAsync<SignInPerson>(new CommandDefinition(sql, args, cancellationToken: cancellation));
    }
}
