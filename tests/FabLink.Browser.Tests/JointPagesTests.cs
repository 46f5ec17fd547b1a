using FabLink.Portal.Features.Demo;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>The cradle of the demo, as its three people see it: each hole conforms, the joint does not bolt up, the advice is followed.</summary>
public sealed class JointPagesTests(Chromium chromium, DemoPortal demo) : IClassFixture<DemoPortal>
{
    [Fact]
    public async Task The_cradle_is_held_set_right_by_its_correction_sheet_and_let_go()
    {
        var (piece, line) = await demo.PieceAsync("RH-110-001");
        await using var shop = await chromium.OpenAsync(demo.Address, 390, dark: true);
        await shop.SignInAsync("joss@holmlane.example", DemoPeople.Password);
        await shop.GoAsync($"/pieces/{piece}/correction");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("not measured yet");
        await SendAsync(shop, line, "RH-110-001-tack.csv");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Conforms at tack");
        await UntilAsync(shop, $"/pieces/{piece}", "does not bolt up: stop");
        await LookedAtAsync(shop, "piece-held-by-joint-390");
        await shop.Page.Locator("a.button", new() { HasText = "What to change" }).ClickAsync();
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Every dimension conforms, and it does not bolt up");
        await Assertions.Expect(shop.Page.Locator("ol.ways li").First).ToContainTextAsync("left front pad");
        await LookedAtAsync(shop, "correction-390-dark");

        await using var engineer = await chromium.OpenAsync(demo.Address, 1280);
        await engineer.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await engineer.GoAsync("/builds");
        await engineer.Page.Locator("table a", new() { HasText = "RH-02" }).First.ClickAsync();
        await Assertions.Expect(engineer.Page.Locator("h1")).ToContainTextAsync("does not bolt up", new() { IgnoreCase = true });
        await LookedAtAsync(engineer, "build-1280");
        await engineer.WalkAsync();
        await engineer.Page.Locator("a", new() { HasText = "cradle to rails" }).First.ClickAsync();
        await Assertions.Expect(engineer.Page.Locator("h1")).ToContainTextAsync("does not bolt up");
        await LookedAtAsync(engineer, "joint-failing-1280");
        await engineer.WalkAsync();
        // A hold is let go by a named person with a reason, or not at all; what was typed stays.
        await engineer.Page.Locator("form[action$='/lift'] textarea").FillAsync(" ");
        await engineer.Page.Locator("form[action$='/lift'] button").ClickAsync();
        await Assertions.Expect(engineer.Page.Locator(".error").First).ToContainTextAsync("Say why");
        await engineer.GoAsync($"/pieces/{piece}/correction");
        await LookedAtAsync(engineer, "correction-1280");

        await SendAsync(shop, line, "RH-110-001-tack-corrected.csv");
        await UntilAsync(shop, $"/pieces/{piece}/correction", "Nothing to change");
        await Assertions.Expect(shop.Page.Locator("p.large").First).ToContainTextAsync("Before: 0.47 mm too far");
        await LookedAtAsync(shop, "correction-after-390-dark");
        await shop.GoAsync($"/pieces/{piece}");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Ready for weld");
    }

    [Theory]
    [InlineData(1280, false)]
    [InlineData(1280, true)]
    [InlineData(390, false)]
    [InlineData(390, true)]
    public async Task What_the_engineer_writes_and_reads_of_joints_stands(int width, bool dark)
    {
        await using var sheet = await chromium.OpenAsync(demo.Address, width, dark);
        await sheet.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await sheet.GoAsync("/builds");
        await sheet.Page.Locator("table a", new() { HasText = "RH-02" }).First.ClickAsync();
        var build = sheet.Page.Url;
        var name = $"{width}{(dark ? "-dark" : "")}";
        await sheet.Page.Locator("a", new() { HasText = "carrier rails" }).Last.ClickAsync();
        await Assertions.Expect(sheet.Page.Locator("h1")).ToContainTextAsync("from where RH-110 has it");
        await LookedAtAsync(sheet, $"survey-{name}");

        await sheet.GoAsync(build + "/surveys/new");
        await sheet.Page.Locator("[name=Name]").FillAsync("winch plate");
        await sheet.Page.Locator("input[type=file]").SetInputFilesAsync(new FilePayload { Name = "winch.csv", MimeType = "text/csv", Buffer = "hole,x,y\n1,0,0\n1,5,north\n"u8.ToArray() });
        await sheet.Page.Locator("form:has(input[type=file]) button").ClickAsync();
        await Assertions.Expect(sheet.Page.Locator("tr.stop")).ToContainTextAsync("Hole 1 stands in row 2 already");
        await Assertions.Expect(sheet.Page.Locator("[name=Name]")).ToHaveValueAsync("winch plate");
        await LookedAtAsync(sheet, $"survey-refused-{name}");

        await sheet.GoAsync(build + "/joints/new");
        await sheet.Page.Locator("[name=Name]").FillAsync("cradle to rails");
        await sheet.Page.Locator("[name=Part]").SelectOptionAsync(new SelectOptionValue { Index = 1 });
        await sheet.Page.Locator("[name=Mate]").SelectOptionAsync(new SelectOptionValue { Index = 3 });
        await sheet.Page.Locator("form[action$='/joints'] button").ClickAsync();
        await Assertions.Expect(sheet.Page.Locator(".error").First).ToContainTextAsync("already");
        await Assertions.Expect(sheet.Page.Locator("[name=Name]")).ToHaveValueAsync("cradle to rails");
        await LookedAtAsync(sheet, $"joint-form-{name}");
        await sheet.GoAsync(build);
        await sheet.Page.Locator("a", new() { HasText = "third bracket" }).First.ClickAsync();
        await LookedAtAsync(sheet, $"joint-{name}");
    }

    private static async Task LookedAtAsync(Sheet sheet, string name)
    {
        await sheet.PictureAsync(name);
        await sheet.StandsAsync();
        if (name.Contains("390", StringComparison.Ordinal))
            await sheet.FitsAThumbAsync();
    }

    private static async Task SendAsync(Sheet sheet, Guid line, string file)
    {
        await sheet.GoAsync($"/lines/{line}/measure?stage=tack");
        await sheet.Page.Locator("input[type=file]").SetInputFilesAsync(Repository.PathTo("sample-data", "measurements", file));
        await sheet.Page.Locator("form:has(input[type=file]) button").First.ClickAsync();
        await sheet.Page.WaitForURLAsync("**/uploads/*");
        await sheet.Page.Locator("form[action^='/uploads/'] button").First.ClickAsync();
        await sheet.Page.WaitForURLAsync("**/reports/*");
    }

    /// <summary>Opens the page again until the job has looked; half a minute is enough for any machine.</summary>
    private static async Task UntilAsync(Sheet sheet, string path, string headline)
    {
        for (var patience = 0; patience < 60; patience++)
        {
            await sheet.GoAsync(path);
            if ((await sheet.Page.Locator("h1").TextContentAsync())!.Contains(headline, StringComparison.Ordinal))
                return;
            await Task.Delay(500, TestContext.Current.CancellationToken);
        }

        Assert.Fail($"{path} never said “{headline}”.");
    }
}
