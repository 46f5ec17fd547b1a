using System.Net;
using FabLink.Testing;

namespace FabLink.Portal.Tests.Cluster;

public sealed class PortalUnderTestTests(PortalUnderTest portal) : IClassFixture<PortalUnderTest>
{
    [Fact]
    public async Task The_portal_answers_on_a_port_of_its_own_when_its_database_is_ready()
    {
        using var stranger = await portal.StrangerAsync();

        var page = await stranger.GetAsync("/health");

        Assert.Equal(HttpStatusCode.OK, page.Status);
        Assert.Equal("127.0.0.1", page.Address.Host);
    }
}
