using Dapper;
using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Jobs;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;
using Hangfire;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.DependencyInjection.Extensions;
using Microsoft.Extensions.Logging;
using Npgsql;

namespace FabLink.Portal.Tests.Faults;

/// <summary>What is owed arrives, however long the mail server is away, and once; a duplicate can be told by its Message-ID (RFC 5322, 3.6.4).</summary>
public sealed class OutboxTests : IAsyncLifetime
{
    private readonly TestMail _mail = TestMail.Start();
    private PortalUnderTest _portal = null!;
    private Scene _scene = null!;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public async ValueTask InitializeAsync() => await StartAsync(withJobs: false);

    public async ValueTask DisposeAsync()
    {
        await _scene.DisposeAsync();
        await _portal.DisposeAsync();
        await _mail.DisposeAsync();
    }

    [Fact]
    public async Task With_the_server_down_for_hours_every_notice_arrives_when_it_is_back_and_none_twice()
    {
        await _mail.DownAsync();
        var owed = await OweAsync(4);
        for (var hour = 0; hour < 3; hour++)
        {
            await DeliverAsync();
            _scene.Clock.Advance(TimeSpan.FromHours(1));
        }

        Assert.Empty(_mail.Arrived);
        Assert.Equal(owed.Count, await AskAsync<long>("select count(*) from outbox where done_at is null and tries = 3 and last_error <> ''"));
        _mail.Up();
        await DeliverAsync();
        await DeliverAsync();

        Assert.Equal(owed.Order(), _mail.Arrived.Select(mail => $"<{mail.MessageId.Trim('<', '>')}>").Order());
        Assert.Equal(0, await AskAsync<long>("select count(*) from outbox where done_at is null and kind like 'mail %'"));
    }

    [Fact]
    public async Task The_pause_between_tries_grows_and_never_ends()
    {
        await _mail.DownAsync();
        await OweAsync(1);
        await DeliverAsync();
        await DeliverAsync();

        Assert.Equal(1, await AskAsync<int>("select tries from outbox order by tries desc limit 1"));
        Assert.Equal(TimeSpan.FromSeconds(5), OutboxDelivery.PauseAfter(0));
        Assert.Equal(TimeSpan.FromSeconds(10), OutboxDelivery.PauseAfter(1));
        Assert.Equal(OutboxDelivery.LongestPause, OutboxDelivery.PauseAfter(1000));
    }

    [Fact]
    public async Task A_server_that_takes_the_mail_and_is_cut_off_before_its_yes_gets_it_again_under_the_same_Message_ID()
    {
        var owed = await OweAsync(1);
        _mail.AcceptThenDrop(1);
        await DeliverAsync();
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await DeliverAsync();
        _scene.Clock.Advance(TimeSpan.FromHours(1));
        await DeliverAsync();

        Assert.Equal(owed.Count + 1, _mail.Arrived.Count);
        Assert.Equal(owed.Count, _mail.Arrived.Select(mail => mail.MessageId).Distinct().Count());
    }

    [Theory]
    [InlineData(451)]
    [InlineData(550)]
    public async Task A_refusal_is_a_reason_to_try_again_and_stands_in_the_record(int code)
    {
        var owed = await OweAsync(1);
        _mail.Refuse(owed.Count, code);
        await DeliverAsync();

        Assert.Equal(owed.Count, await AskAsync<long>("select count(*) from outbox where done_at is null and tries = 1 and last_error <> ''"));
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await DeliverAsync();
        Assert.Equal(owed.Count, _mail.Arrived.Count);
    }

    [Fact]
    public async Task Two_deliveries_at_once_send_nothing_twice()
    {
        var owed = await OweAsync(6);
        await Task.WhenAll(DeliverAsync(), DeliverAsync(), DeliverAsync());
        await DeliverAsync();

        Assert.Equal(owed.Order(), _mail.Arrived.Select(mail => $"<{mail.MessageId.Trim('<', '>')}>").Order());
    }

    [Fact]
    public async Task What_was_not_committed_is_not_mailed()
    {
        var order = await _scene.IssuedAsync();
        await DeliverAsync();
        var before = _mail.Arrived.Count;
        await using (var work = await _scene.Database.BeginAsync(_scene.Ned, Cancellation))
            Assert.True(await TellAsync(work, order, "taken back") > 0);
        await DeliverAsync();

        Assert.Equal(before, _mail.Arrived.Count);
    }

    [Fact]
    public async Task Hangfire_hears_of_the_commit_and_delivers_by_itself()
    {
        await _scene.DisposeAsync();
        await _portal.DisposeAsync();
        await StartAsync(withJobs: true);

        var owed = await OweAsync(2);
        var arrived = await _mail.WaitForAsync(owed.Count, TimeSpan.FromSeconds(60));

        Assert.Equal(owed.Order(), arrived.Select(mail => $"<{mail.MessageId.Trim('<', '>')}>").Order());
    }

    [Fact]
    public async Task Many_notices_at_once_to_a_slow_server_are_no_error()
    {
        await _scene.DisposeAsync();
        await _portal.DisposeAsync();
        _mail.Slow = TimeSpan.FromSeconds(1.5);
        await StartAsync(withJobs: true);

        var owed = new List<string>();
        for (var n = 0; n < 3; n++)
            owed.AddRange((await OweAsync(1)).Except(owed));
        await _mail.WaitForAsync(owed.Count, TimeSpan.FromSeconds(60));

        Assert.Equal(owed.Count, _mail.Arrived.Select(mail => mail.MessageId).Distinct().Count());
        Assert.DoesNotContain(_portal.Warnings, line => line.Contains("lock", StringComparison.OrdinalIgnoreCase));
        // Hangfire counts what it gave up as deleted; a run that finds another at work is done.
        Assert.Equal(0, await AskAsync<long>("select count(*) from hangfire.job where statename in ('Failed', 'Deleted')"));
    }

    /// <summary>Without jobs the test alone delivers, on a clock of its own.</summary>
    private async Task StartAsync(bool withJobs)
    {
        var clock = new Microsoft.Extensions.Time.Testing.FakeTimeProvider(new DateTimeOffset(2026, 11, 23, 8, 0, 0, TimeSpan.Zero));
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(withJobs ? null : clock, _mail, Services: services =>
        {
            if (withJobs)
                return;
            foreach (var hosted in services.Where(service => service.ImplementationType == typeof(OutboxEar)
                         || service.ServiceType == typeof(Microsoft.Extensions.Hosting.IHostedService) && service.ImplementationFactory?.Method.Module.Assembly.GetName().Name?.StartsWith("Hangfire", StringComparison.Ordinal) == true).ToList())
                services.Remove(hosted);
        }));
        _scene = await Scene.InAsync(_portal.Database.OwnerConnectionString);
        if (!withJobs)
            clock.SetUtcNow(_scene.Clock.GetUtcNow());
        _portalClock = clock;
    }

    private Microsoft.Extensions.Time.Testing.FakeTimeProvider _portalClock = null!;

    /// <returns>The Message-IDs of everything that is owed now.</returns>
    private async Task<IReadOnlyList<string>> OweAsync(int times)
    {
        var order = await _scene.IssuedAsync();
        for (var n = 0; n < times; n++)
        {
            await using var work = await _scene.Database.BeginAsync(_scene.Ned, Cancellation);
            await TellAsync(work, order, $"thing {n}");
            await work.CommitAsync();
        }

        await using var owner = await _scene.OwnerAsync();
        return (await owner.QueryAsync<string>("select message_id from outbox where kind = 'mail a notice'")).AsList();
    }

    private Task<int> TellAsync(Work work, Guid order, string subject) => Tell.OrganisationAsync(
        work, _scene.Clock.GetUtcNow(), "test", _scene.HolmLane, ["fabricator"], order, null, subject, "What is true.", $"/orders/{order}");

    private async Task DeliverAsync()
    {
        _portalClock.SetUtcNow(_scene.Clock.GetUtcNow());
        await using var scope = _portal.Services.CreateAsyncScope();
        await scope.ServiceProvider.GetRequiredService<OutboxDelivery>().DeliverDueAsync(Cancellation);
    }

    private async Task<T?> AskAsync<T>(string sql)
    {
        await using var owner = await _scene.OwnerAsync();
        return await owner.ExecuteScalarAsync<T>(sql);
    }
}
