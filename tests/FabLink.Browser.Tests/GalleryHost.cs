using FabLink.Portal.Platform.Web;
using FabLink.Testing;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;

[assembly: AssemblyFixture(typeof(FabLink.Browser.Tests.GalleryHost))]

namespace FabLink.Browser.Tests;

/// <summary>The pages alone on a real port: the look needs no database.</summary>
public sealed class GalleryHost : IAsyncLifetime
{
    private WebApplication? _app;

    public string Address { get; private set; } = "";

    public async ValueTask InitializeAsync()
    {
        var builder = WebApplication.CreateBuilder(new WebApplicationOptions
        {
            ApplicationName = typeof(WebSetup).Assembly.GetName().Name,
            ContentRootPath = Path.Combine(Repository.Root, "src", "FabLink.Portal"),
            EnvironmentName = "Testing",
        });
        builder.Logging.SetMinimumLevel(LogLevel.None);
        builder.Services.AddAuthorization();
        builder.Services.AddWebPages();
        builder.Services.AddSingleton(TimeProvider.System);
        builder.Services.AddScoped<INavSource, Signed>();
        _app = builder.Build();
        _app.Urls.Add("http://127.0.0.1:0");
        _app.UseWebPages();
        _app.UseAuthorization();
        _app.MapControllers();
        await _app.StartAsync();
        Address = _app.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.Single();
    }

    public async ValueTask DisposeAsync()
    {
        if (_app is not null)
            await _app.DisposeAsync();
    }

    private sealed class Signed : INavSource
    {
        public ValueTask<NavModel> ForAsync(Microsoft.AspNetCore.Http.HttpContext context) => new(new NavModel(
            [new("Builds", "/gallery"), new("Work orders", "/work-orders"), new("Drawings", "/drawings"), new("Bench", "/bench")],
            "Mara Quill", "Saltmarsh Works"));
    }
}
