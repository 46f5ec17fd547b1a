using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.StaticFiles;
using Microsoft.Extensions.DependencyInjection.Extensions;

namespace FabLink.Portal.Platform.Web;

/// <summary>What every page shares: views beside their controllers, form tokens, safe headers, error sheets, static files.</summary>
public static class WebSetup
{
    /// <summary>Scripts, styles and fonts of our own only, nothing inline, no frames: a stored text can never run.</summary>
    private const string ContentPolicy =
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data: blob:; connect-src 'self'; " +
        "worker-src 'self'; manifest-src 'self'; object-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

    public static IServiceCollection AddWebPages(this IServiceCollection services)
    {
        var folders = new FeatureFolders();
        services.AddControllersWithViews(mvc =>
            {
                mvc.Conventions.Add(folders);
                mvc.Filters.Add(new AutoValidateAntiforgeryTokenAttribute());
                mvc.SuppressImplicitRequiredAttributeForNonNullableReferenceTypes = true;
            })
            .AddRazorOptions(razor => razor.ViewLocationExpanders.Add(folders));
        services.AddAntiforgery(form =>
        {
            form.Cookie.Name = "fablink-form";
            form.FormFieldName = "form-token";
            form.HeaderName = "form-token";
        });
        services.Configure<CookieTempDataProviderOptions>(said => said.Cookie.Name = "fablink-said");
        services.Configure<RouteOptions>(route => route.LowercaseUrls = true);
        services.TryAddScoped<INavSource, EmptyNav>();
        return services;
    }

    /// <summary>Goes first, before sign-in and rate limits, so that their refusals come out as sheets too.</summary>
    public static WebApplication UseWebPages(this WebApplication app)
    {
        app.Use(SafeHeadersAsync);
        app.UseWhen(IsPage, pages =>
        {
            pages.UseExceptionHandler("/error/500");
            pages.UseStatusCodePagesWithReExecute("/error/{0}");
        });
        app.UseStaticFiles(new StaticFileOptions { OnPrepareResponse = CacheByContent });
        app.UseRouting();
        return app;
    }

    private static bool IsPage(HttpContext context) => !context.Request.Path.StartsWithSegments("/api");

    private static Task SafeHeadersAsync(HttpContext context, RequestDelegate next)
    {
        context.Response.OnStarting(static state =>
        {
            var headers = ((HttpContext)state).Response.Headers;
            headers.TryAdd("Content-Security-Policy", ContentPolicy);
            headers.TryAdd("X-Content-Type-Options", "nosniff");
            headers.TryAdd("Referrer-Policy", "same-origin");
            headers.TryAdd("Cross-Origin-Opener-Policy", "same-origin");
            headers.TryAdd("Cross-Origin-Resource-Policy", "same-origin");
            headers.TryAdd("Permissions-Policy", "camera=(self), geolocation=(), microphone=()");
            return Task.CompletedTask;
        }, context);
        return next(context);
    }

    /// <summary>A file asked for with the hash of its content in "v" never changes; one without is asked for again.</summary>
    private static void CacheByContent(StaticFileResponseContext file) =>
        file.Context.Response.Headers.CacheControl = file.Context.Request.Query.ContainsKey("v")
            ? "public, max-age=31536000, immutable"
            : "no-cache";
}
