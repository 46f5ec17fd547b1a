using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Features.Demo;
using FabLink.Testing;

namespace FabLink.Browser.Tests;

/// <summary>The portal with its demo, started once for this class.</summary>
public sealed class BenchHost : IAsyncLifetime
{
    private PortalUnderTest? _portal;

    public string Address => _portal!.Address.GetLeftPart(UriPartial.Authority);

    public async ValueTask InitializeAsync() =>
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["Demo:Seed"] = "true", ["SignIn:PerMinute"] = "1000" }));

    public async ValueTask DisposeAsync()
    {
        if (_portal is not null)
            await _portal.DisposeAsync();
    }
}

/// <summary>Every bench page, empty and answered with what it holds, wide in light and narrow in dark: no violation that axe finds, nothing beside the page.</summary>
public class BenchPagesTests(Chromium chromium, BenchHost host) : IClassFixture<BenchHost>
{
    [Theory]
    [InlineData(1280, false)]
    [InlineData(390, true)]
    public async Task Every_calculator_stands_before_and_after_it_is_asked(int width, bool dark)
    {
        await using var sheet = await chromium.OpenAsync(host.Address, width, dark);
        await sheet.SignInAsync("joss@holmlane.example", DemoPeople.Password);
        var wrong = new List<string>();
        foreach (var path in Calculators.All.Select(calculator => calculator.Page).Prepend("/bench").Append("/bench/fasteners").Append("/bench/gauge"))
        {
            Assert.Equal(200, (await sheet.GoAsync(path)).Status);
            await CheckAsync(sheet, path, width, dark, wrong);
            var ask = sheet.Page.Locator("main form button:not([formaction])");
            if (path == "/bench" || await ask.CountAsync() == 0)
                continue;
            await sheet.PressAsync(ask.First);
            Assert.Equal(0, await sheet.Page.Locator(".error-summary").CountAsync());
            await CheckAsync(sheet, path + " answered", width, dark, wrong);
        }

        Assert.True(wrong.Count == 0, string.Join(Environment.NewLine, wrong));
    }

    private static async Task CheckAsync(Sheet sheet, string what, int width, bool dark, List<string> wrong)
    {
        await sheet.PictureAsync($"bench-{what.Trim('/').Replace('/', '-').Replace(' ', '-')}-{width}-{(dark ? "dark" : "light")}");
        wrong.AddRange((await sheet.FaultsAsync()).Select(fault => $"{what}, {width}, {(dark ? "dark" : "light")}: {fault}"));
        if (width < 600)
            wrong.AddRange((await sheet.SmallTargetsAsync()).Select(fault => $"{what}, {width}: {fault}"));
    }
}
