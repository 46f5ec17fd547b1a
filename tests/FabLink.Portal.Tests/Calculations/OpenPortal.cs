using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;

namespace FabLink.Portal.Tests.Calculations;

/// <summary>A portal that answers calculations without sign-in, with the people of the scene for its bench.</summary>
public sealed class OpenPortal : IAsyncLifetime
{
    private PortalUnderTest _portal = null!;
    private Scene _scene = null!;

    public HttpClient Client { get; private set; } = null!;

    public string Address => _portal.Address.GetLeftPart(UriPartial.Authority);

    public Task<Person> SignInAsync(string who) => _portal.SignInAsync(who, Scene.Password);

    public Task<Person> StrangerAsync() => _portal.StrangerAsync();

    public async ValueTask InitializeAsync()
    {
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string>
        {
            ["SignIn:PerMinute"] = "1000",
            ["Calculations:Anonymous"] = "true",
            ["Calculations:PerMinute"] = "100000",
        }));
        _scene = await Scene.InAsync(_portal.Database.OwnerConnectionString);
        Client = new HttpClient { BaseAddress = _portal.Address };
    }

    /// <summary>Asks and expects an answer.</summary>
    public async Task<JsonElement> AskAsync(string name, string question)
    {
        using var response = await SendAsync(name, question);
        var text = await response.Content.ReadAsStringAsync();
        Assert.True(response.IsSuccessStatusCode, $"{name}: {text}");
        Assert.Equal("application/json", response.Content.Headers.ContentType?.MediaType);
        return JsonDocument.Parse(text).RootElement;
    }

    /// <summary>Asks and expects a refusal in problem details.</summary>
    public async Task<JsonElement> RefusalAsync(string name, string question)
    {
        using var response = await SendAsync(name, question);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType);
        var problem = await response.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal((int)response.StatusCode, problem.GetProperty("status").GetInt32());
        return problem;
    }

    public async Task<HttpResponseMessage> SendAsync(string name, string question)
    {
        using var body = new StringContent(question, Encoding.UTF8, "application/json");
        return await Client.PostAsync(new Uri($"/api/v1/calculations/{name}", UriKind.Relative), body);
    }

    public async ValueTask DisposeAsync()
    {
        Client.Dispose();
        await _scene.DisposeAsync();
        await _portal.DisposeAsync();
    }
}
