using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Platform;

/// <summary>The portal from its first line to its last: ground (database, files), then services, then pages, then jobs.</summary>
public static class Portal
{
    public static async Task RunAsync(string[] args)
    {
        var builder = WebApplication.CreateBuilder(args);
        var owner = builder.Configuration.GetConnectionString("FabLink")
            ?? throw new InvalidOperationException("No connection string.");
        await Migrator.MigrateAsync(owner, CancellationToken.None);

        builder.Services.AddSingleton(TimeProvider.System);
        builder.Services.AddSingleton(services => new DataSources(owner, services.GetRequiredService<ILoggerFactory>()));
        builder.Services.AddSingleton<Database.Database>();
        builder.Services.AddPeople();
        builder.Services.AddHandlers();
        builder.Services.AddValidatorsFromAssemblyContaining<Program>(includeInternalTypes: true);
        builder.Services.AddControllersWithViews(mvc => mvc.ModelBinderProviders.Insert(0, new ActorBinder()));
        builder.Services.AddWebPages();

        await using var app = builder.Build();
        app.UseWebPages();
        app.UseAuthentication();
        app.UseAuthorization();
        app.MapControllers();
        app.MapGet("/health", Health);
        await app.RunAsync();
    }

    private static async Task<IResult> Health(DataSources sources, CancellationToken cancellation)
    {
        try
        {
            await using var ask = sources.App.CreateCommand("select 1");
            await ask.ExecuteScalarAsync(cancellation);
            return Results.Text("ready");
        }
        catch (Npgsql.NpgsqlException notThere)
        {
            return Results.Text($"the database does not answer: {notThere.Message}", statusCode: StatusCodes.Status503ServiceUnavailable);
        }
    }
}
