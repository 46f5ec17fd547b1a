using System.Net;
using FabLink.Testing;

namespace FabLink.Browser.Tests;

public sealed class WebPagesTests(GalleryHost host) : IDisposable
{
    private readonly HttpClient _client = new() { BaseAddress = new Uri(host.Address) };

    public void Dispose() => _client.Dispose();

    [Theory]
    [InlineData("/gallery")]
    [InlineData("/gallery/fault")]
    [InlineData("/site.css")]
    public async Task Every_answer_forbids_inline_script_foreign_sources_and_frames(string path)
    {
        var answer = await _client.GetAsync(new Uri(path, UriKind.Relative));
        var policy = Assert.Single(answer.Headers.GetValues("Content-Security-Policy"));
        Assert.Contains("default-src 'none'", policy, StringComparison.Ordinal);
        Assert.Contains("frame-ancestors 'none'", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.Equal("nosniff", Assert.Single(answer.Headers.GetValues("X-Content-Type-Options")));
    }

    [Fact]
    public async Task A_post_without_its_form_token_is_refused()
    {
        using var form = new FormUrlEncodedContent([new("Piece", "RH-120-003")]);
        Assert.Equal(HttpStatusCode.BadRequest, (await _client.PostAsync(new Uri("/gallery", UriKind.Relative), form)).StatusCode);
    }

    [Fact]
    public async Task A_file_asked_for_by_its_hash_is_kept_and_one_without_is_asked_for_again()
    {
        var page = await _client.GetStringAsync(new Uri("/gallery", UriKind.Relative));
        var sheet = page.Split("href=\"").Single(part => part.StartsWith("/site.css?v=", StringComparison.Ordinal)).Split('"')[0];
        Assert.Contains("immutable", (await _client.GetAsync(new Uri(sheet, UriKind.Relative))).Headers.CacheControl!.ToString(), StringComparison.Ordinal);
        Assert.True((await _client.GetAsync(new Uri("/site.css", UriKind.Relative))).Headers.CacheControl!.NoCache);
    }

    [Fact]
    public void The_fonts_are_asked_for_by_the_version_in_the_lock_file()
    {
        var folder = Repository.PathTo("src", "FabLink.Portal");
        var version = System.Text.Json.JsonDocument.Parse(File.ReadAllText(Path.Combine(folder, "package.json")))
            .RootElement.GetProperty("dependencies").GetProperty("@fontsource/overpass").GetString();
        var asked = File.ReadAllText(Path.Combine(folder, "wwwroot", "site.css")).Split("woff2?v=").Skip(1).Select(rest => rest.Split('"')[0]).Distinct();
        Assert.Equal([version], asked);
        Assert.DoesNotContain("\"resolved\"", File.ReadAllText(Path.Combine(folder, "package-lock.json")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task No_page_carries_inline_style_or_script()
    {
        foreach (var path in new[] { "/gallery", "/gallery/board", "/gallery/refusal" })
        {
            var page = await (await _client.GetAsync(new Uri(path, UriKind.Relative))).Content.ReadAsStringAsync();
            Assert.DoesNotContain(" style=", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<script>", page, StringComparison.Ordinal);
            Assert.DoesNotContain(" onclick=", page, StringComparison.Ordinal);
        }
    }
}
