using System.Buffers;
using System.Collections.Concurrent;
using System.Net;
using System.Net.Sockets;
using MimeKit;
using SmtpServer;
using SmtpServer.ComponentModel;
using SmtpServer.Protocol;
using SmtpServer.Storage;

namespace FabLink.Testing;

/// <summary>One mail as it was accepted.</summary>
public sealed record ArrivedMail(string MessageId, IReadOnlyList<string> Recipients, MimeMessage Message)
{
    public string Subject => Message.Subject ?? "";

    public string Text => Message.TextBody ?? "";
}

/// <summary>A real SMTP server on a port of its own that a test can take down and up again, and make misbehave.</summary>
public sealed class TestMail : IAsyncDisposable
{
    private readonly ConcurrentQueue<ArrivedMail> arrived = new();
    private CancellationTokenSource? running;
    private Task? serving;
    private int dropsLeft;
    private int refusalsLeft;
    private SmtpReplyCode refusal;

    private TestMail(int port) => Port = port;

    public int Port { get; }

    /// <summary>How long it thinks before it answers.</summary>
    public TimeSpan Slow { get; set; }

    /// <summary>Everything that was accepted, in order; also what was accepted without an answer.</summary>
    public IReadOnlyList<ArrivedMail> Arrived => [.. arrived];

    public static TestMail Start()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        var mail = new TestMail(((IPEndPoint)listener.LocalEndpoint).Port);
        listener.Stop();
        mail.Up();
        return mail;
    }

    public void Up()
    {
        if (running is not null) return;
        running = new CancellationTokenSource();
        var options = new SmtpServerOptionsBuilder()
            .ServerName("mail.test")
            .Endpoint(endpoint => endpoint.Endpoint(new IPEndPoint(IPAddress.Loopback, Port)).AllowUnsecureAuthentication())
            .Build();
        var services = new ServiceProvider();
        services.Add(new Store(this));
        serving = new SmtpServer.SmtpServer(options, services).StartAsync(running.Token);
    }

    /// <summary>Nobody answers on the port until <see cref="Up"/>.</summary>
    public async Task DownAsync()
    {
        if (running is null) return;
        await running.CancelAsync();
        try
        {
            await serving!;
        }
        catch (OperationCanceledException)
        {
            // That is what was asked for.
        }

        running.Dispose();
        running = null;
    }

    /// <summary>The next mails are taken and recorded, and the connection is cut before the yes is said.</summary>
    public void AcceptThenDrop(int mails) => dropsLeft = mails;

    /// <summary>The next mails are refused with this code (4xx for now, 5xx for good).</summary>
    public void Refuse(int mails, int code) => (refusalsLeft, refusal) = (mails, (SmtpReplyCode)code);

    /// <summary>Waits until so many mails arrived; fails with what did arrive.</summary>
    public async Task<IReadOnlyList<ArrivedMail>> WaitForAsync(int count, TimeSpan? patience = null)
    {
        using var limit = new CancellationTokenSource(patience ?? TimeSpan.FromSeconds(20));
        while (arrived.Count < count)
        {
            if (limit.IsCancellationRequested)
                throw new InvalidOperationException($"{count} mails were awaited, {arrived.Count} arrived: {string.Join("; ", arrived.Select(mail => mail.Subject))}");
            await Task.Delay(50);
        }

        return Arrived;
    }

    public async ValueTask DisposeAsync() => await DownAsync();

    private sealed class Store(TestMail mail) : MessageStore
    {
        public override async Task<SmtpResponse> SaveAsync(
            ISessionContext context, IMessageTransaction transaction, ReadOnlySequence<byte> buffer, CancellationToken cancellationToken)
        {
            if (Interlocked.Decrement(ref mail.refusalsLeft) >= 0) return new SmtpResponse(mail.refusal, "refused by the test");
            using var stream = new MemoryStream(buffer.ToArray());
            await Task.Delay(mail.Slow, cancellationToken);
            var message = await MimeMessage.LoadAsync(stream, cancellationToken);
            mail.arrived.Enqueue(new ArrivedMail(
                message.MessageId ?? "", [.. transaction.To.Select(to => $"{to.User}@{to.Host}")], message));
            if (Interlocked.Decrement(ref mail.dropsLeft) < 0) return SmtpResponse.Ok;

            (context.Pipe as IDisposable)?.Dispose();
            throw new OperationCanceledException("The connection is cut before the answer, as the test asked.");
        }
    }
}
