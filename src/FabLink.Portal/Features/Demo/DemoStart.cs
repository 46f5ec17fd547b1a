using FabLink.Portal.Platform.Jobs;

namespace FabLink.Portal.Features.Demo;

/// <summary>Setting <c>Demo:Seed</c>: an empty database gets the demo once, and the sign-ins are written beside it.</summary>
public static class DemoStart
{
    public static async Task PrepareAsync(WebApplication app, string ownerConnectionString, string dataFolder)
    {
        if (!app.Configuration.GetValue<bool>("Demo:Seed"))
            return;
        var cancellation = app.Lifetime.ApplicationStopping;
        if (!await DemoPeople.AnyAsync(ownerConnectionString, cancellation))
        {
            await using var scope = app.Services.CreateAsyncScope();
            var now = scope.ServiceProvider.GetRequiredService<TimeProvider>().GetUtcNow();
            var people = await DemoPeople.WriteAsync(ownerConnectionString, now.AddDays(-12), cancellation);
            await Story.BeginAsync(ownerConnectionString, cancellation);
            await new DemoSeed(scope.ServiceProvider, people, now, SampleData(app.Configuration), cancellation).PlayAsync();
        }
        await Story.EndAsync(ownerConnectionString, cancellation);
        app.Lifetime.ApplicationStarted.Register(() =>
        {
            var address = app.Services.GetRequiredService<PortalAddress>().Value;
            File.WriteAllText(Path.Combine(dataFolder, "demo-sign-ins.txt"), DemoPeople.SignIns(address));
        });
    }

    private static string SampleData(IConfiguration configuration) =>
        configuration["Demo:SampleData"] ?? Path.Combine(AppContext.BaseDirectory, "sample-data");
}
