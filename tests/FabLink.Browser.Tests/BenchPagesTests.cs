using FabLink.Portal.Tests.Calculations;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Browser.Tests;

public sealed class BenchPagesTests(Chromium chromium, OpenPortal portal) : IClassFixture<OpenPortal>
{
    private static readonly string[] _asked = ["bolt-up", "chain", "judge", "gauge-study", "feature"];

    [Theory]
    [ClassData(typeof(Variants))]
    public async Task The_answered_pages_of_the_bench_stand(int width, bool dark)
    {
        await using var sheet = await chromium.OpenAsync(portal.Address, width, dark);
        await sheet.SignInAsync("ida@holmlane.example", Scene.Password);
        await sheet.GoAsync("/bench");
        await sheet.StandsAsync();
        foreach (var name in _asked)
        {
            await sheet.GoAsync("/bench/" + name);
            await sheet.Page.Locator("form.form button:not([name])").ClickAsync();
            await sheet.Page.GetByText("Where this comes from").WaitForAsync();
            await sheet.PictureAsync($"bench-{name}-{width}-{(dark ? "dark" : "light")}");
            await sheet.StandsAsync();
            await sheet.FitsAThumbAsync();
        }
    }
}
