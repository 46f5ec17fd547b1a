using FabLink.Portal.Features.Joints;
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
                    // Hangfire holds a lock for moments only, and every job is safe to run twice: the lock of a killed process keeps nobody waiting.
                    DistributedLockTimeout = TimeSpan.FromSeconds(10),
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
        services.AddHostedService<Rhythm>();
        return services;
    }

    private sealed class JobsConnections(DataSources sources) : IConnectionFactory
    {
        public NpgsqlConnection GetOrCreateConnection() => sources.Jobs.CreateConnection();
    }
}
