using System.Net.Sockets;
using System.Text.RegularExpressions;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using Microsoft.Extensions.Options;
using MimeKit;
using MimeKit.Utils;

namespace FabLink.Portal.Platform.Mail;

/// <summary>Hands one mail to the SMTP server and says how that ended.</summary>
public sealed partial class MailSender(IOptionsMonitor<MailOptions> settings, TimeProvider clock, ILogger<MailSender> logger)
{
    /// <exception cref="OperationCanceledException">The caller gave up; whether the server took the mail is not known.</exception>
    public async Task<MailOutcome> SendAsync(MailMessage mail, CancellationToken cancel)
    {
        var options = settings.CurrentValue;
        MimeMessage message;
        try
        {
            message = Compose(mail, options);
        }
        catch (Exception wrong) when (wrong is ParseException or FormatException or ArgumentException)
        {
            return new MailOutcome.Never(wrong.Message);
        }

        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel);
        limit.CancelAfter(options.Timeout);
        using var client = new SmtpClient { Timeout = (int)options.Timeout.TotalMilliseconds };
        try
        {
            await client.ConnectAsync(options.Host, options.Port, Security(options.Security), limit.Token);
            if (!string.IsNullOrEmpty(options.User)) await client.AuthenticateAsync(options.User, options.Password ?? "", limit.Token);
        }
        catch (Exception failed) when (IsConnectionFault(failed, cancel))
        {
            // Whatever the server says before it has seen the mail is about us, not about the mail.
            return new MailOutcome.NotNow($"{options.Host}:{options.Port}: {failed.Message}");
        }

        MailOutcome outcome;
        try
        {
            outcome = new MailOutcome.Accepted(await client.SendAsync(message, limit.Token));
        }
        catch (SmtpCommandException refused)
        {
            var reason = $"{(int)refused.StatusCode} {refused.Message}";
            // RFC 5321 4.2.1: 5yz is for good, 4yz for now. A refused sender is our setting, which somebody will correct.
            outcome = (int)refused.StatusCode >= 500 && refused.ErrorCode != SmtpErrorCode.SenderNotAccepted
                ? new MailOutcome.Never(reason)
                : new MailOutcome.NotNow(reason);
        }
        catch (Exception failed) when (IsConnectionFault(failed, cancel))
        {
            return new MailOutcome.NotNow($"{options.Host}:{options.Port}: {failed.Message}");
        }

        await SayGoodbyeAsync(client, limit.Token);
        return outcome;
    }

    /// <summary>After the server's yes nothing may turn it into a no, least of all a lost goodbye.</summary>
    private async Task SayGoodbyeAsync(SmtpClient client, CancellationToken cancel)
    {
        try
        {
            await client.DisconnectAsync(quit: true, cancel);
        }
        catch (Exception lost)
        {
            logger.LogDebug(lost, "The mail server closed before the goodbye");
        }
    }

    private MimeMessage Compose(MailMessage mail, MailOptions options)
    {
        var message = new MimeMessage
        {
            Subject = OneLine(mail.Subject),
            MessageId = mail.MessageId.Trim().Trim('<', '>'),
            Date = clock.GetUtcNow(),
            Body = new BodyBuilder { TextBody = mail.TextBody, HtmlBody = mail.HtmlBody }.ToMessageBody(),
        };
        message.From.Add(new MailboxAddress(OneLine(options.FromName), Address(options.From)));
        message.To.Add(new MailboxAddress(OneLine(mail.ToName), Address(mail.To)));
        // RFC 3834 5: automatic mail says so, and absence replies stay away.
        message.Headers[HeaderId.AutoSubmitted] = "auto-generated";
        foreach (var (name, value) in mail.Headers ?? new Dictionary<string, string>())
        {
            if (!FieldName().IsMatch(name)) throw new FormatException($"'{OneLine(name)}' is no name of a header field.");
            message.Headers[name] = OneLine(value);
        }

        return message;
    }

    /// <summary>An address and nothing else: what could open a second header, recipient or command is no address.</summary>
    private static string Address(string text) =>
        PlainAddress().IsMatch(text) && MailboxAddress.TryParse(text, out var parsed) && parsed.Address == text
            ? text
            : throw new FormatException($"'{OneLine(text)}' is no mail address.");

    private static string OneLine(string text) => ControlCharacters().Replace(text, " ").Trim();

    private static bool IsConnectionFault(Exception failed, CancellationToken callers) => failed switch
    {
        OperationCanceledException => !callers.IsCancellationRequested,
        SmtpCommandException or ProtocolException or AuthenticationException or SslHandshakeException or SocketException or IOException
            or ServiceNotConnectedException or ServiceNotAuthenticatedException or NotSupportedException or TimeoutException or ArgumentException => true,
        _ => false,
    };

    private static SecureSocketOptions Security(MailSecurity security) => security switch
    {
        MailSecurity.StartTls => SecureSocketOptions.StartTls,
        MailSecurity.Tls => SecureSocketOptions.SslOnConnect,
        MailSecurity.None => SecureSocketOptions.None,
        _ => SecureSocketOptions.Auto,
    };

    [GeneratedRegex(@"\A[^\s\p{Cc}<>(),;:\\""@]+@[^\s\p{Cc}<>(),;:\\""@]+\z")]
    private static partial Regex PlainAddress();

    /// <summary>RFC 5322 3.6.8, kept to letters, digits and hyphens.</summary>
    [GeneratedRegex(@"\A[A-Za-z][A-Za-z0-9-]*\z")]
    private static partial Regex FieldName();

    [GeneratedRegex(@"[\p{Cc}\u2028\u2029]+")]
    private static partial Regex ControlCharacters();
}
