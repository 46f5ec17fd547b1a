using Microsoft.Playwright;

[assembly: AssemblyFixture(typeof(FabLink.Browser.Tests.Chromium))]

namespace FabLink.Browser.Tests;

/// <summary>One Chromium for the whole run, the one that the machine has; nothing is downloaded.</summary>
public sealed class Chromium : IAsyncLifetime
{
    private static readonly string[] Places = ["/usr/bin/chromium-headless-shell", "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
    private IPlaywright? _playwright;
    private IBrowser? _browser;

    public async ValueTask InitializeAsync()
    {
        var path = Environment.GetEnvironmentVariable("FABLINK_CHROMIUM") is { Length: > 0 } own ? own : Places.FirstOrDefault(File.Exists)
            ?? throw new FileNotFoundException("The browser tests need Chromium: 'apt-get install chromium-headless-shell', or name it in FABLINK_CHROMIUM.");
        Assertions.SetDefaultExpectTimeout(30_000);
        _playwright = await Playwright.CreateAsync();
        _browser = await _playwright.Chromium.LaunchAsync(new()
        {
            ExecutablePath = path,
            Args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
        });
    }

    /// <summary>A page of a fresh person (no cookies) that fails on any script error or breach of the content policy: see <see cref="Sheet"/>.</summary>
    public async Task<Sheet> OpenAsync(string baseAddress, int width = 1280, bool dark = false, bool javaScript = true)
    {
        var context = await _browser!.NewContextAsync(new()
        {
            BaseURL = baseAddress,
            ViewportSize = new() { Width = width, Height = width < 600 ? 844 : 820 },
            DeviceScaleFactor = 1,
            HasTouch = width < 600,
            ColorScheme = dark ? ColorScheme.Dark : ColorScheme.Light,
            ReducedMotion = ReducedMotion.Reduce,
            JavaScriptEnabled = javaScript,
            Locale = "en-GB",
        });
        context.SetDefaultTimeout(60_000);
        return new Sheet(await context.NewPageAsync());
    }

    public async ValueTask DisposeAsync()
    {
        if (_browser is not null)
            await _browser.DisposeAsync();
        _playwright?.Dispose();
    }
}
