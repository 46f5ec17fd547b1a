using FabLink.Portal.Platform.Mail;
using FabLink.Testing;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Time.Testing;

namespace FabLink.Portal.Tests.Mail;

public sealed class MailTests : IAsyncDisposable
{
    private static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);
    private readonly TestMail server = TestMail.Start();
    private readonly string folder = Directory.CreateTempSubdirectory("fablink-mail-").FullName;
    private readonly List<ServiceProvider> containers = [];

    public async ValueTask DisposeAsync()
    {
        foreach (var container in containers) await container.DisposeAsync();
        await server.DisposeAsync();
        Directory.Delete(folder, recursive: true);
    }

    [Fact]
    public async Task A_mail_arrives_as_it_was_written()
    {
        var outcome = await SendAsync(Mail() with { HtmlBody = "<p>Träger hält.</p>" });

        Assert.IsType<MailOutcome.Accepted>(outcome);
        var arrived = Assert.Single(server.Arrived);
        Assert.Equal("one@fablink.invalid", arrived.MessageId);
        Assert.Equal(["shop@holm.example"], arrived.Recipients);
        Assert.Equal("Report of RH-110 failed", arrived.Subject);
        Assert.Equal("Träger hält nicht.", arrived.Text.Trim());
        Assert.Equal("<p>Träger hält.</p>", arrived.Message.HtmlBody?.Trim());
        Assert.Equal(Noon, arrived.Message.Date);
        // RFC 3834 5.
        Assert.Equal("auto-generated", arrived.Message.Headers["Auto-Submitted"]);
    }

    [Fact]
    public async Task Line_breaks_in_what_strangers_write_open_no_second_header()
    {
        await SendAsync(Mail() with
        {
            Subject = "late\r\nBcc: everybody@example.org",
            ToName = "Shop\nX-Evil: 1",
            Headers = new Dictionary<string, string> { ["X-FabLink-Notice"] = "7\r\nX-Evil: 2" },
        });

        var arrived = Assert.Single(server.Arrived);
        Assert.Equal(["shop@holm.example"], arrived.Recipients);
        Assert.Empty(arrived.Message.Bcc);
        Assert.Null(arrived.Message.Headers["X-Evil"]);
        Assert.Equal("late Bcc: everybody@example.org", arrived.Subject);
    }

    [Theory]
    [InlineData("shop@holm.example\r\nRCPT TO:<x@y.example>")]
    [InlineData("shop@holm.example, other@y.example")]
    [InlineData("Shop <shop@holm.example>")]
    [InlineData("shop")]
    [InlineData("")]
    public async Task What_is_no_single_address_is_never_sent(string address)
    {
        Assert.IsType<MailOutcome.Never>(await SendAsync(Mail() with { To = address }));
        Assert.Empty(server.Arrived);
    }

    [Fact]
    public async Task A_header_name_that_is_none_is_never_sent() => Assert.IsType<MailOutcome.Never>(
        await SendAsync(Mail() with { Headers = new Dictionary<string, string> { ["X: 1\r\nBcc"] = "x" } }));

    [Theory]
    // RFC 5321 4.2.1: 4yz transient, 5yz permanent; 451 and 550 are 4.2.3's own examples.
    [InlineData(451, typeof(MailOutcome.NotNow))]
    [InlineData(452, typeof(MailOutcome.NotNow))]
    [InlineData(550, typeof(MailOutcome.Never))]
    [InlineData(554, typeof(MailOutcome.Never))]
    public async Task A_refusal_for_now_is_told_from_one_for_good(int code, Type expected)
    {
        server.Refuse(mails: 1, code);

        var outcome = await SendAsync(Mail());

        Assert.IsType(expected, outcome);
        Assert.Contains(code.ToString(), outcome.ToString());
        Assert.IsType<MailOutcome.Accepted>(await SendAsync(Mail()));
    }

    [Fact]
    public async Task A_server_that_is_down_means_not_now_and_up_again_it_gets_the_mail_once()
    {
        await server.DownAsync();
        Assert.IsType<MailOutcome.NotNow>(await SendAsync(Mail()));

        server.Up();
        Assert.IsType<MailOutcome.Accepted>(await SendAsync(Mail()));
        Assert.Single(server.Arrived);
    }

    [Fact]
    public async Task A_server_that_takes_the_mail_and_drops_the_line_gets_it_again_with_the_same_id()
    {
        server.AcceptThenDrop(mails: 1);

        Assert.IsType<MailOutcome.NotNow>(await SendAsync(Mail()));
        Assert.IsType<MailOutcome.Accepted>(await SendAsync(Mail()));

        // RFC 5321 6.1: the client must assume that it was not taken, and the receiver can tell the duplicate by its Message-ID.
        Assert.Equal(["one@fablink.invalid", "one@fablink.invalid"], server.Arrived.Select(mail => mail.MessageId));
    }

    [Fact]
    public async Task A_server_that_never_answers_is_given_up_after_the_timeout()
    {
        using var silent = new System.Net.Sockets.TcpListener(System.Net.IPAddress.Loopback, 0);
        silent.Start();
        var port = ((System.Net.IPEndPoint)silent.LocalEndpoint).Port;

        var outcome = await Sender(("Mail:Host", "127.0.0.1"), ("Mail:Port", $"{port}"), ("Mail:Security", "None"), ("Mail:Timeout", "00:00:01"))
            .SendAsync(Mail(), TestContext.Current.CancellationToken);

        Assert.IsType<MailOutcome.NotNow>(outcome);
    }

    [Fact]
    public async Task Without_a_server_the_sink_takes_the_mail_and_still_has_it_after_a_restart()
    {
        var first = Container();
        var sink = first.GetRequiredService<MailSink>();
        await sink.StartAsync(TestContext.Current.CancellationToken);
        var sender = first.GetRequiredService<MailSender>();
        Assert.IsType<MailOutcome.Accepted>(await sender.SendAsync(Mail(), TestContext.Current.CancellationToken));
        Assert.IsType<MailOutcome.Accepted>(await sender.SendAsync(Mail() with { MessageId = "<two@fablink.invalid>", Subject = "Later" }, TestContext.Current.CancellationToken));
        Assert.Equal(["Later", "Report of RH-110 failed"], sink.Mails.Select(mail => mail.Subject));
        Assert.Equal(["shop@holm.example"], sink.Mails[0].To);
        await sink.StopAsync(TestContext.Current.CancellationToken);

        var again = Container().GetRequiredService<MailSink>();
        await again.StartAsync(TestContext.Current.CancellationToken);

        Assert.Equal(["two@fablink.invalid", "one@fablink.invalid"], again.Mails.Select(mail => mail.MessageId));
        await again.StopAsync(TestContext.Current.CancellationToken);
    }

    private static MailMessage Mail() => new(
        "shop@holm.example", "Holm Lane", "Report of RH-110 failed", "Träger hält nicht.", null, "<one@fablink.invalid>");

    private Task<MailOutcome> SendAsync(MailMessage mail) => Sender(
        ("Mail:Host", "127.0.0.1"), ("Mail:Port", server.Port.ToString()), ("Mail:Security", "None")).SendAsync(mail, TestContext.Current.CancellationToken);

    private MailSender Sender(params (string Key, string Value)[] settings) => Container(settings).GetRequiredService<MailSender>();

    private ServiceProvider Container(params (string Key, string Value)[] settings)
    {
        var configuration = new ConfigurationBuilder()
            .AddInMemoryCollection(settings.Select(setting => new KeyValuePair<string, string?>(setting.Key, setting.Value))).Build();
        var container = new ServiceCollection().AddLogging().AddSingleton<TimeProvider>(new FakeTimeProvider(Noon))
            .AddMail(configuration, folder).BuildServiceProvider();
        containers.Add(container);
        return container;
    }
}
