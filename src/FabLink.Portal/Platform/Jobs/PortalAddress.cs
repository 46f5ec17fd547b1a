using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;

namespace FabLink.Portal.Platform.Jobs;

/// <summary>
/// The address that people reach the portal at, for links in mails: the setting <c>Portal:Address</c>, else where it listens.
/// Without a trailing slash.
/// </summary>
public sealed class PortalAddress(IConfiguration configuration, IServer server)
{
    public string Value => (configuration["Portal:Address"]
        ?? server.Features.Get<IServerAddressesFeature>()?.Addresses.FirstOrDefault()
        ?? "http://localhost").TrimEnd('/').Replace("[::]", "localhost", StringComparison.Ordinal).Replace("0.0.0.0", "localhost", StringComparison.Ordinal);
}
