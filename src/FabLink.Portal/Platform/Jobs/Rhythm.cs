using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using Hangfire;
using Hangfire.Storage;
using Npgsql;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>
/// The recurring jobs, by name, said again at every start so that a changed rhythm takes effect. Nobody's page waits for it:
/// while the database is away, or a killed process has left its lock, it is tried again.
/// </summary>
public sealed class Rhythm(IRecurringJobManager recurring, ILogger<Rhythm> log) : BackgroundService
{
    private static readonly TimeSpan _pause = TimeSpan.FromSeconds(2);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        await Task.Yield();
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                Say();
                return;
            }
            catch (Exception away) when (away is DistributedLockTimeoutException or NpgsqlException or IOException or InvalidOperationException or ObjectDisposedException)
            {
                log.LogWarning("The recurring jobs cannot be said for the moment: {Error}", away.Message);
                await Task.Delay(_pause, stoppingToken);
            }
        }
    }

    private void Say()
    {
        recurring.AddOrUpdate<OutboxDelivery>("deliver what the outbox owes", delivery => delivery.DeliverDueAsync(CancellationToken.None), "*/15 * * * * *");
        recurring.AddOrUpdate<RecheckBuild>("look again at what reports touch", recheck => recheck.RunDueAsync(CancellationToken.None), "*/15 * * * * *");
        recurring.AddOrUpdate<SweepLateness.Handler>("say what is late", sweep => sweep.HandleAsync(CancellationToken.None), "*/10 * * * *");
        recurring.AddOrUpdate<SweepWitness.Handler>("open what waited for a witness long enough", sweep => sweep.RunAsync(CancellationToken.None), "*/5 * * * *");
    }
}
