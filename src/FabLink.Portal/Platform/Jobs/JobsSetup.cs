using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;
using Hangfire;
using Hangfire.PostgreSql;
using Hangfire.PostgreSql.Factories;
using Npgsql;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>Hangfire on the same PostgreSQL, as the jobs role. Jobs take ids only and are safe to run twice.</summary>
public static class JobsSetup
{
    public static IServiceCollection AddJobs(this IServiceCollection services)
    {
        services.AddSingleton<PortalAddress>();
        services.AddSingleton<IConnectionFactory, JobsConnections>();
        services.AddHangfire((provider, hangfire) => hangfire
            .SetDataCompatibilityLevel(CompatibilityLevel.Version_180)
            .UseSimpleAssemblyNameTypeSerializer()
            .UseRecommendedSerializerSettings()
            .UsePostgreSqlStorage(
                storage => storage.UseConnectionFactory(provider.GetRequiredService<IConnectionFactory>()),
                new PostgreSqlStorageOptions
                {
                    SchemaName = "hangfire",
                    PrepareSchemaIfNecessary = false,
                    QueuePollInterval = TimeSpan.FromSeconds(1),
                    InvisibilityTimeout = TimeSpan.FromMinutes(5),
                    EnableLongPolling = true,
                }));
        services.AddHangfireServer(server =>
        {
            server.WorkerCount = 2;
            server.SchedulePollingInterval = TimeSpan.FromSeconds(5);
            server.ShutdownTimeout = TimeSpan.FromSeconds(5);
        });
        services.AddScoped<OutboxDelivery>();
        services.AddScoped<RecheckBuild>();
        services.AddSingleton<Platform.People.SignInLinks>();
        services.AddHostedService<OutboxEar>();
        return services;
    }

    /// <summary>The recurring jobs, by name. Said again at every start, so a changed rhythm takes effect.</summary>
    public static void ScheduleJobs(this IServiceProvider services)
    {
        var recurring = services.GetRequiredService<IRecurringJobManager>();
        recurring.AddOrUpdate<OutboxDelivery>("deliver what the outbox owes", delivery => delivery.DeliverDueAsync(CancellationToken.None), "*/15 * * * * *");
        recurring.AddOrUpdate<RecheckBuild>("look again at what reports touch", recheck => recheck.RunDueAsync(CancellationToken.None), "*/15 * * * * *");
        recurring.AddOrUpdate<SweepLateness.Handler>("say what is late", sweep => sweep.HandleAsync(CancellationToken.None), "*/10 * * * *");
        recurring.AddOrUpdate<SweepWitness.Handler>("open what waited for a witness long enough", sweep => sweep.RunAsync(CancellationToken.None), "*/5 * * * *");
    }

    private sealed class JobsConnections(DataSources sources) : IConnectionFactory
    {
        public NpgsqlConnection GetOrCreateConnection() => sources.Jobs.CreateConnection();
    }
}
