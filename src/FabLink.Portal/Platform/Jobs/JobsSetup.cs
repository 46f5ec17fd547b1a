using FabLink.Portal.Features.Joints;
using FabLink.Portal.Platform.Database;
using Hangfire;
using Hangfire.AspNetCore;
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
        // Said before AddHangfire, which would take both from static fields: two portals in one process would work for one of the two.
        services.AddSingleton<JobStorage>(provider => new PostgreSqlStorage(provider.GetRequiredService<IConnectionFactory>(), new PostgreSqlStorageOptions
        {
            SchemaName = "hangfire",
            PrepareSchemaIfNecessary = false,
            QueuePollInterval = TimeSpan.FromSeconds(1),
            InvisibilityTimeout = TimeSpan.FromMinutes(5),
            EnableLongPolling = true,
            // Hangfire holds a lock for moments only, and every job is safe to run twice: the lock of a killed process keeps nobody waiting.
            DistributedLockTimeout = TimeSpan.FromSeconds(10),
        }));
        services.AddSingleton<JobActivator>(provider => new AspNetCoreJobActivator(provider.GetRequiredService<IServiceScopeFactory>()));
        services.AddHangfire(hangfire => hangfire
            .SetDataCompatibilityLevel(CompatibilityLevel.Version_180)
            .UseSimpleAssemblyNameTypeSerializer()
            .UseRecommendedSerializerSettings());
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
