using System.Globalization;
using System.Threading.RateLimiting;
using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.Jobs;
using FabLink.Portal.Platform.Mail;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Mvc.ModelBinding.Metadata;
using Npgsql;

namespace FabLink.Portal.Platform;

/// <summary>The portal from its first line to its last: ground (database, files), then services, then pages, then jobs.</summary>
public static class Portal
{
    public static async Task RunAsync(string[] args)
    {
        CultureInfo.DefaultThreadCurrentCulture = CultureInfo.InvariantCulture;
        var builder = WebApplication.CreateBuilder(args);
        var folder = DataFolderOf(builder.Configuration);
        await using var cluster = await ClusterAsync(builder, folder);
        var owner = builder.Configuration.GetConnectionString("FabLink") ?? cluster!.OwnerConnectionString;
        await Migrator.MigrateAsync(owner, CancellationToken.None);
        AddServices(builder, owner, folder);

        await using var app = builder.Build();
        UsePages(app);
        await FirstPerson.EnsureAsync(app.Configuration, owner, app.Services.GetRequiredService<TimeProvider>(), app.Lifetime.ApplicationStopping);
        await DemoStart.PrepareAsync(app, owner, folder);
        await app.RunAsync();
    }

    /// <summary>Setting <c>Data:Folder</c>: files, keys, the private cluster. Never inside the repository.</summary>
    private static string DataFolderOf(ConfigurationManager configuration) =>
        configuration["Data:Folder"]
        ?? Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.LocalApplicationData, Environment.SpecialFolderOption.Create), "fablink");

    /// <summary>Without a connection string the portal brings its own PostgreSQL.</summary>
    private static async Task<PrivateCluster?> ClusterAsync(WebApplicationBuilder builder, string folder)
    {
        if (!string.IsNullOrEmpty(builder.Configuration.GetConnectionString("FabLink")))
            return null;
        using var loggers = LoggerFactory.Create(logging => logging.AddConsole());
        return await PrivateCluster.StartAsync(folder, new PrivateClusterOptions(), loggers.CreateLogger<PrivateCluster>());
    }

    private static void AddServices(WebApplicationBuilder builder, string owner, string folder)
    {
        var services = builder.Services;
        services.AddSingleton(TimeProvider.System);
        services.AddSingleton(provider => new DataSources(owner, provider.GetRequiredService<ILoggerFactory>()));
        services.AddSingleton<Database.Database>();
        services.AddPeople();
        services.AddFiles(folder);
        services.AddMail(builder.Configuration, folder);
        services.AddJobs();
        services.AddHandlers();
        services.AddValidatorsFromAssemblyContaining<Program>(includeInternalTypes: true);
        services.AddScoped<INavSource, PortalNav>();
        services.AddCalculations();
        services.AddWebPages();
        services.AddControllersWithViews(mvc =>
        {
            mvc.ModelBinderProviders.Insert(0, new ActorBinder());
            mvc.ModelBinderProviders.Insert(0, new NumberBinder());
            var messages = mvc.ModelBindingMessageProvider;
            messages.SetAttemptedValueIsInvalidAccessor((value, _) => NotUnderstood(value));
            messages.SetNonPropertyAttemptedValueIsInvalidAccessor(NotUnderstood);
            messages.SetValueIsInvalidAccessor(NotUnderstood);
            messages.SetValueMustNotBeNullAccessor(NotUnderstood);
            mvc.ModelMetadataDetailsProviders.Add(new EmptyStaysEmpty());
            // A revision may have a thousand characteristics on one page.
            mvc.MaxModelBindingCollectionSize = 20_000;
        });
        services.Configure<FormOptions>(forms =>
        {
            forms.ValueCountLimit = 40_000;
            forms.MultipartBodyLengthLimit = 128_000_000;
        });
        services.AddRateLimiter(limits =>
        {
            limits.RejectionStatusCode = StatusCodes.Status429TooManyRequests;
            limits.AddPolicy("sign-in", context => RateLimitPartition.GetFixedWindowLimiter(
                context.Connection.RemoteIpAddress?.ToString() ?? "",
                _ => new FixedWindowRateLimiterOptions
                {
                    PermitLimit = builder.Configuration.GetValue("SignIn:PerMinute", 30),
                    Window = TimeSpan.FromMinutes(1),
                }));
            limits.AddPolicy(CalculationsApi.RateLimit, context => RateLimitPartition.GetFixedWindowLimiter(
                context.Connection.RemoteIpAddress?.ToString() ?? "",
                _ => new FixedWindowRateLimiterOptions
                {
                    PermitLimit = builder.Configuration.GetValue("Calculations:PerMinute", 120),
                    Window = TimeSpan.FromMinutes(1),
                }));
        });
    }

    private static void UsePages(WebApplication app)
    {
        app.UseWebPages();
        app.UseAuthentication();
        app.UseLocalTime(LocalTime.OfSetting(app.Configuration["Time:Zone"]));
        app.UseAuthorization();
        app.UseRateLimiter();
        app.Use(SecondTry.InvokeAsync);
        app.MapControllers();
        app.MapCalculations();
        app.MapGet("/", Home);
        app.MapGet("/health", HealthAsync);
    }

    /// <summary>Everybody begins where their work is.</summary>
    private static IResult Home(HttpContext context) => Results.LocalRedirect(
        Actor.From(context.User) switch
        {
            null => "/sign-in",
            { } actor when actor.MayAnywhere(Deed.SeeBuilds) => "/board",
            { } actor when actor.MayAnywhere(Deed.SeeWorkOrders) => "/orders",
            _ => "/steps",
        });

    private static async Task<IResult> HealthAsync(DataSources sources, CancellationToken cancellation)
    {
        try
        {
            foreach (var source in new[] { sources.App, sources.Jobs, sources.SignIn })
            {
                await using var ask = source.CreateCommand("select 1");
                await ask.ExecuteScalarAsync(cancellation);
            }
            return Results.Text("ready");
        }
        catch (NpgsqlException)
        {
            sources.Forget();
            return Results.Text("the database does not answer", statusCode: StatusCodes.Status503ServiceUnavailable);
        }
    }

    private static string NotUnderstood(string? value) =>
        string.IsNullOrWhiteSpace(value) ? "Something has to stand here." : $"“{value}” is not understood here.";

    /// <summary>A field left empty is an empty text, not nothing.</summary>
    private sealed class EmptyStaysEmpty : IDisplayMetadataProvider
    {
        public void CreateDisplayMetadata(DisplayMetadataProviderContext context)
        {
            if (context.Key.ModelType == typeof(string))
                context.DisplayMetadata.ConvertEmptyStringToNull = false;
        }
    }
}
