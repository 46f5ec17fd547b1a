using System.Net;
using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Mail;
using FabLink.Portal.Platform.People;
using Hangfire;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>
/// Delivers what the outbox owes, at least once. The truth is in the outbox row; Hangfire only calls here, and may call twice:
/// a row is taken with <c>for update skip locked</c> and stays locked until the server has answered. When this process dies between
/// the server's yes and our note of it, the same mail goes out again with the same Message-ID.
/// </summary>
public sealed class OutboxDelivery(DataSources sources, MailSender mail, SignInLinks links, PortalAddress address, TimeProvider clock, ILogger<OutboxDelivery> log)
{
    /// <summary>The longest pause between two tries. There is no last try.</summary>
    public static readonly TimeSpan LongestPause = TimeSpan.FromMinutes(15);

    private const long Turn = 0x0FAB_0B0C;

    private const string Due = "select id from outbox where done_at is null and next_try_at <= @Now and kind like 'mail %' order by next_try_at limit 100";

    private const string Take = """
        select x.id, x.kind, x.detail, x.tries, x.message_id, p.id as person_id, p.name, c.email, n.subject, n.body, coalesce(n.path, x.detail) as path
        from outbox x
        left join notice n on x.kind = 'mail a notice' and n.id = x.subject_id
        join person p on p.id = coalesce(n.person_id, x.subject_id)
        join credential c on c.person_id = p.id
        where x.id = @id and x.done_at is null and x.next_try_at <= @Now
        for update of x skip locked
        """;

    private const string Done = "update outbox set done_at = @Now, tries = tries + 1, last_error = null where id = @id";
    private const string Failed = "update outbox set tries = tries + 1, last_error = @error, next_try_at = @next where id = @id";

    /// <summary>5 s, 10 s, 20 s … up to <see cref="LongestPause"/>.</summary>
    public static TimeSpan PauseAfter(int tries) =>
        TimeSpan.FromSeconds(Math.Min(LongestPause.TotalSeconds, 5 * Math.Pow(2, Math.Min(tries, 20))));

    /// <summary>Everything that is due now. Safe to run twice at once.</summary>
    [AutomaticRetry(Attempts = 0, OnAttemptsExceeded = AttemptsExceededAction.Delete)]
    public Task DeliverDueAsync(CancellationToken cancellation) =>
        OneRun.AllDueAsync(sources.Jobs, Turn, Due, clock, id => DeliverAsync(id, cancellation), cancellation);

    /// <summary>One owed mail; false when it is not due, taken by somebody else, or could not be delivered now.</summary>
    public async Task<bool> DeliverAsync(Guid id, CancellationToken cancellation)
    {
        await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        var owed = await connection.QuerySingleOrDefaultAsync<Owed>(new CommandDefinition(
            Take, new { id, Now = clock.GetUtcNow() }, transaction, cancellationToken: cancellation));
        if (owed is null)
            return false;
        var error = await mail.SendAsync(await ComposeAsync(owed, cancellation), cancellation) switch
        {
            MailOutcome.Accepted => null,
            // "Never" is the server's opinion of today; an address or a setting that is put right tomorrow must still be served.
            MailOutcome.Never never => $"Refused for good: {never.Reason}",
            MailOutcome.NotNow notNow => notNow.Reason,
            var other => throw new InvalidOperationException($"{other.GetType().Name} is not an outcome."),
        };
        if (error is not null)
            log.LogWarning("Mail {Id} is not delivered yet: {Error}", id, error);
        var now = clock.GetUtcNow();
        await connection.ExecuteAsync(new CommandDefinition(
            error is null ? Done : Failed,
            new { id, Now = now, error, next = now + PauseAfter(owed.Tries) },
            transaction,
            cancellationToken: CancellationToken.None));
        await transaction.CommitAsync(CancellationToken.None);
        return error is null;
    }

    private async Task<MailMessage> ComposeAsync(Owed owed, CancellationToken cancellation)
    {
        var token = await links.MakeAsync(owed.PersonId, owed.Path, cancellation);
        var link = $"{address.Value}/sign-in/link/{token}";
        var (subject, body) = owed.Kind == "mail a notice"
            ? (owed.Subject!, owed.Body!)
            : ("Your link to FabLink", "Here is the link that signs you in: you asked for it, or a build shop has taken you on to send you its work orders. If you expect neither, do nothing: nobody else can use it.");
        var text = $"""
            {owed.Name},

            {body}

            Open it here; the link signs you in on that device, once, for {SignInLinks.GoodFor.Days} days:
            {link}
            """;
        var html = $"""
            <p>{WebUtility.HtmlEncode(owed.Name)},</p><p>{WebUtility.HtmlEncode(body).Replace("\n", "<br>", StringComparison.Ordinal)}</p>
            <p><a href="{link}">Open it here</a>; the link signs you in on that device, once, for {SignInLinks.GoodFor.Days} days.</p>
            """;
        return new MailMessage(owed.Email, owed.Name, subject, text, html, owed.MessageId);
    }

    private sealed record Owed(
        Guid Id, string Kind, string Detail, int Tries, string MessageId, Guid PersonId, string Name, string Email, string? Subject, string? Body, string Path);
}
