using System.Reflection;

namespace FabLink.Portal.Platform;

/// <summary>Every use case is a static class with a nested <c>Handler</c>; this makes them all known to the container.</summary>
public static class HandlerSetup
{
    public static IServiceCollection AddHandlers(this IServiceCollection services)
    {
        foreach (var handler in Assembly.GetExecutingAssembly().GetTypes()
                     .Where(type => type is { IsNested: true, IsAbstract: false, Name: "Handler" }))
            services.AddScoped(handler);
        return services;
    }
}
