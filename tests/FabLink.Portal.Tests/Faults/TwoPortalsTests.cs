using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Jobs;
using Hangfire;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;

namespace FabLink.Portal.Tests.Faults;

/// <summary>
/// Hangfire keeps its storage and its activator in static fields, last one wins. Two portals that start in one process at the same moment
/// must not take each other's: a portal whose jobs run on the other's database does nothing of what it owes.
/// </summary>
public sealed class TwoPortalsTests
{
    [Fact]
    public async Task Two_portals_that_start_at_once_in_one_process_each_keep_their_own_jobs()
    {
        await using var first = Services("Host=127.0.0.1;Port=1;Database=first;Password=p");
        await using var second = Services("Host=127.0.0.1;Port=1;Database=second;Password=p");
        // As it happens when they start at once: both configure, then both ask.
        first.GetRequiredService<IGlobalConfiguration>();
        second.GetRequiredService<IGlobalConfiguration>();

        Assert.NotSame(second.GetRequiredService<JobStorage>(), first.GetRequiredService<JobStorage>());
        using var scope = first.GetRequiredService<JobActivator>().BeginScope((JobActivatorContext)null!);
        var delivery = (Probe)scope.Resolve(typeof(Probe));
        Assert.Same(first.GetRequiredService<DataSources>(), delivery.Sources);
    }

    private static ServiceProvider Services(string owner)
    {
        var services = new ServiceCollection();
        // Hangfire keeps the last portal's loggers as well, and these must outlive the test.
        services.AddSingleton<ILoggerFactory>(NullLoggerFactory.Instance);
        services.AddSingleton(typeof(ILogger<>), typeof(NullLogger<>));
        services.AddSingleton(_ => new DataSources(owner));
        services.AddJobs();
        services.AddScoped<Probe>();
        return services.BuildServiceProvider();
    }

    private sealed record Probe(DataSources Sources);
}
