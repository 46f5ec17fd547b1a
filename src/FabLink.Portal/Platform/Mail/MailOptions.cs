namespace FabLink.Portal.Platform.Mail;

/// <summary>How the connection to the mail server is protected.</summary>
public enum MailSecurity
{
    /// <summary>TLS from the first byte on port 465, else STARTTLS when the server offers it.</summary>
    Auto,

    /// <summary>STARTTLS or nothing.</summary>
    StartTls,

    /// <summary>TLS from the first byte.</summary>
    Tls,

    /// <summary>In the clear: for a server on this machine.</summary>
    None,
}

/// <summary>Section <c>Mail</c> of the configuration. Without a host the portal keeps its mail to itself, in the sink.</summary>
public sealed class MailOptions
{
    public string Host { get; set; } = "";

    public int Port { get; set; } = 587;

    public string? User { get; set; }

    public string? Password { get; set; }

    public MailSecurity Security { get; set; }

    /// <summary>The sender's address.</summary>
    public string From { get; set; } = "portal@fablink.invalid";

    /// <summary>The sender's name.</summary>
    public string FromName { get; set; } = "FabLink";

    /// <summary>For one mail, from connecting to the server's yes.</summary>
    public TimeSpan Timeout { get; set; } = TimeSpan.FromSeconds(30);
}

/// <summary>One mail to one person.</summary>
/// <param name="MessageId">With or without angle brackets; the same on every try, so that a duplicate can be told (RFC 5322 3.6.4).</param>
/// <param name="Headers">Further header fields, by name.</param>
public sealed record MailMessage(
    string To,
    string ToName,
    string Subject,
    string TextBody,
    string? HtmlBody,
    string MessageId,
    IReadOnlyDictionary<string, string>? Headers = null);

/// <summary>How one try ended.</summary>
public abstract record MailOutcome
{
    private MailOutcome()
    {
    }

    /// <summary>The server said yes; the mail is its business now.</summary>
    public sealed record Accepted(string Answer) : MailOutcome;

    /// <summary>Not now: no connection, no answer, a 4yz reply, or a fault of our own settings. Try again.</summary>
    public sealed record NotNow(string Reason) : MailOutcome;

    /// <summary>Never in this form: the address is none, or the server refused it for good (5yz). Trying again changes nothing.</summary>
    public sealed record Never(string Reason) : MailOutcome;
}
