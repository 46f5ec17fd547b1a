using FabLink.Portal.Features.Joints;
using FabLink.Portal.Platform.Database;
using Hangfire;
using Npgsql;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>
/// Hears that something was left in the outbox (a NOTIFY that PostgreSQL sends after the commit) and has Hangfire deliver it at once.
/// What it misses, while the database or this process was away, the recurring sweep finds.
/// </summary>
public sealed class OutboxEar(DataSources sources, IBackgroundJobClient jobs, ILogger<OutboxEar> log) : BackgroundService
{
    private static readonly TimeSpan _pause = TimeSpan.FromSeconds(2);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await ListenAsync(stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception away) when (away is NpgsqlException or IOException or BackgroundJobClientException)
            {
                // It listens all the time, so it is the first to know that the server is gone.
                sources.Forget();
                log.LogWarning("The outbox is not heard for the moment: {Error}", away.Message);
                await Task.Delay(_pause, stoppingToken);
            }
        }
    }

    private async Task ListenAsync(CancellationToken cancellation)
    {
        await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
        await using (var listen = new NpgsqlCommand("listen outbox", connection))
            await listen.ExecuteNonQueryAsync(cancellation);
        while (true)
        {
            await connection.WaitAsync(cancellation);
            jobs.Enqueue<RecheckBuild>(recheck => recheck.RunDueAsync(CancellationToken.None));
            jobs.Enqueue<OutboxDelivery>(delivery => delivery.DeliverDueAsync(CancellationToken.None));
        }
    }
}
