using System.Buffers;
using System.Net;
using System.Net.Sockets;
using MimeKit;
using SmtpServer;
using SmtpServer.Storage;
using SmtpResponse = SmtpServer.Protocol.SmtpResponse;

namespace FabLink.Portal.Platform.Mail;

/// <summary>One mail that the sink took.</summary>
/// <param name="Id">Running number, names it in an address.</param>
public sealed record ReceivedMail(
    string Id, DateTimeOffset ReceivedAt, string From, IReadOnlyList<string> To, string Subject, string MessageId, string Text, string? Html);

/// <summary>
/// An SMTP server inside the portal for where there is no other: it takes every mail, sends none on, and keeps the
/// newest ones in a folder, so that a demo can show what would have been sent.
/// </summary>
public sealed class MailSink : IHostedService, IAsyncDisposable
{
    private const int Kept = 1000;

    private readonly Lock guard = new();
    private readonly List<ReceivedMail> mails = [];
    private readonly string folder;
    private readonly TimeProvider clock;
    private readonly CancellationTokenSource stopping = new();
    private Task serving = Task.CompletedTask;
    private bool disposed;
    private bool stopped;
    private int last;

    /// <param name="folder">Where the mails are kept, one file each; made when missing.</param>
    public MailSink(string folder, TimeProvider clock)
    {
        (this.folder, this.clock) = (folder, clock);
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        Port = ((IPEndPoint)listener.LocalEndpoint).Port;
    }

    /// <summary>On 127.0.0.1, for this process only.</summary>
    public int Port { get; }

    /// <summary>What came in, newest first.</summary>
    public IReadOnlyList<ReceivedMail> Mails
    {
        get
        {
            lock (guard) return [.. mails.AsEnumerable().Reverse()];
        }
    }

    public async Task StartAsync(CancellationToken cancellationToken)
    {
        Directory.CreateDirectory(folder);
        var files = Directory.GetFiles(folder, "*.eml").Order(StringComparer.Ordinal).ToList();
        foreach (var file in files.SkipLast(Kept)) File.Delete(file);
        foreach (var file in files.TakeLast(Kept))
        {
            await using var stream = File.OpenRead(file);
            var message = await MimeMessage.LoadAsync(stream, cancellationToken);
            var id = Path.GetFileNameWithoutExtension(file);
            last = int.Parse(id);
            Add(Read(id, message, [.. message.To.Mailboxes.Select(to => to.Address)], message.Date));
        }

        var options = new SmtpServerOptionsBuilder()
            .ServerName("localhost")
            .MaxMessageSize(30_000_000)
            .Endpoint(endpoint => endpoint.Endpoint(new IPEndPoint(IPAddress.Loopback, Port)).AllowUnsecureAuthentication())
            .Build();
        var services = new SmtpServer.ComponentModel.ServiceProvider();
        services.Add(new Store(this));
        serving = new SmtpServer.SmtpServer(options, services).StartAsync(stopping.Token);
    }

    public async Task StopAsync(CancellationToken cancellationToken)
    {
        // A host may stop and dispose it from two sides at once.
        if (!Interlocked.Exchange(ref stopped, true))
            await stopping.CancelAsync();
        try
        {
            await serving.WaitAsync(cancellationToken);
        }
        catch (OperationCanceledException)
        {
            // Stopping was asked for.
        }
    }

    /// <summary>The container disposes it twice: once as itself, once as a hosted service.</summary>
    public async ValueTask DisposeAsync()
    {
        if (Interlocked.Exchange(ref disposed, true))
            return;
        await StopAsync(CancellationToken.None);
        stopping.Dispose();
    }

    private void Add(ReceivedMail mail)
    {
        lock (guard)
        {
            mails.Add(mail);
            if (mails.Count > Kept) mails.RemoveAt(0);
        }
    }

    private static ReceivedMail Read(string id, MimeMessage message, IReadOnlyList<string> to, DateTimeOffset at) => new(
        id, at, message.From.Mailboxes.FirstOrDefault()?.Address ?? "", to, message.Subject ?? "", message.MessageId ?? "",
        message.TextBody ?? "", message.HtmlBody);

    private sealed class Store(MailSink sink) : MessageStore
    {
        public override async Task<SmtpResponse> SaveAsync(
            ISessionContext context, IMessageTransaction transaction, ReadOnlySequence<byte> buffer, CancellationToken cancellationToken)
        {
            using var stream = new MemoryStream(buffer.ToArray());
            var message = await MimeMessage.LoadAsync(stream, cancellationToken);
            var now = sink.clock.GetUtcNow();
            var id = Interlocked.Increment(ref sink.last).ToString("D9");
            var path = Path.Combine(sink.folder, id + ".eml");
            await File.WriteAllBytesAsync(path + ".new", stream.ToArray(), cancellationToken);
            File.Move(path + ".new", path);
            sink.Add(Read(id, message, [.. transaction.To.Select(to => $"{to.User}@{to.Host}")], now));
            return SmtpResponse.Ok;
        }
    }
}
