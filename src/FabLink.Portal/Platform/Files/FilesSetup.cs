namespace FabLink.Portal.Platform.Files;

public static class FilesSetup
{
    /// <summary>The store in <c>files</c> of the data folder, and the sweep of what interrupted uploads leave there.</summary>
    public static IServiceCollection AddFiles(this IServiceCollection services, string dataFolder) => services
        .AddSingleton(_ => new FileStore(Path.Combine(dataFolder, "files")))
        .AddHostedService<IncomingSweep>();

    private sealed class IncomingSweep(FileStore store, TimeProvider clock, ILogger<FileStore> logger) : BackgroundService
    {
        /// <summary>Longer than any upload may take.</summary>
        private static readonly TimeSpan Abandoned = TimeSpan.FromHours(6);

        protected override async Task ExecuteAsync(CancellationToken stoppingToken)
        {
            using var hourly = new PeriodicTimer(TimeSpan.FromHours(1), clock);
            do
            {
                var swept = store.Sweep(clock.GetUtcNow() - Abandoned);
                if (swept > 0) logger.LogInformation("{Count} interrupted uploads were removed", swept);
            }
            while (await hourly.WaitForNextTickAsync(stoppingToken));
        }
    }
}
