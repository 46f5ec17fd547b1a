using FabLink.Portal.Features.Demo;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>
/// The demo's build as its people see it: the cradle whose holes conform and which does not bolt up, the chain that it closes, the arm that is turned
/// while it is tacked, the bracket whose failed hole does not matter.
/// </summary>
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
        // The sheet that was opened before the job looked says it by itself.
        await Assertions.Expect(shop.Page.Locator("main .say")).ToContainTextAsync("does not bolt up: stop", new() { Timeout = 60_000 });
        await shop.GoAsync($"/pieces/{piece}");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("does not bolt up: stop");
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
        await engineer.GoAsync("/builds");
        await engineer.Page.Locator("table a", new() { HasText = "RH-02" }).First.ClickAsync();
        await engineer.Page.Locator("a[href$='/chains']").First.ClickAsync();
        await LookedAtAsync(engineer, "chains-1280");
        await engineer.Page.Locator("a", new() { HasText = "rail, cradle, cross tube, rail" }).First.ClickAsync();
        var chain = engineer.Page.Url;
        await UntilAsync(engineer, new Uri(chain).AbsolutePath, "4 of 5 links", "main");

        await SendAsync(shop, line, "RH-110-001-tack-corrected.csv");
        await UntilAsync(shop, $"/pieces/{piece}/correction", "Nothing to change");
        await Assertions.Expect(shop.Page.Locator("p.large").First).ToContainTextAsync("Before: 0.47 mm too far");
        await LookedAtAsync(shop, "correction-after-390-dark");
        await shop.GoAsync($"/pieces/{piece}");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Ready for weld");

        // With the cradle measured only one link of the chain is open.
        await UntilAsync(engineer, new Uri(chain).AbsolutePath, "It will close");
        await LookedAtAsync(engineer, "chain-1280");
        await engineer.WalkAsync();
    }

    [Fact]
    public async Task The_arm_is_turned_by_its_correction_sheet_while_it_is_only_tacked()
    {
        var (arm, line) = await demo.PieceAsync("RH-120-001");
        await using var shop = await chromium.OpenAsync(demo.Address, 390);
        await shop.SignInAsync("wren@dunlin.example", DemoPeople.Password);
        await shop.GoAsync($"/pieces/{arm}");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("does not conform");
        await shop.Page.Locator("a.button", new() { HasText = "What to change" }).ClickAsync();
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Change this before it goes on");
        // 640 mm · tan 1.1° = 12.29 mm.
        await Assertions.Expect(shop.Page.Locator("tr.stop")).ToContainTextAsync("12.29 mm at the far end, 640 mm away");
        await LookedAtAsync(shop, "arm-correction-390");

        await SendAsync(shop, line, "RH-120-001-tack-corrected.csv");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Conforms at tack");
        await shop.GoAsync($"/pieces/{arm}/correction");
        await Assertions.Expect(shop.Page.Locator("h1")).ToContainTextAsync("Nothing to change");
        await Assertions.Expect(shop.Page.Locator("main")).ToContainTextAsync("before: 31°");
        await LookedAtAsync(shop, "arm-after-390");

        await using var engineer = await chromium.OpenAsync(demo.Address, 1280, dark: true);
        await engineer.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await UntilAsync(engineer, $"/pieces/{arm}", "pad angles of the arms", "tr:has(.verdict.ok)");
        await LookedAtAsync(engineer, "arm-pair-1280-dark");
    }

    [Fact]
    public async Task The_bracket_with_one_failed_hole_bolts_up_all_the_same_and_is_used_under_a_concession()
    {
        await using var engineer = await chromium.OpenAsync(demo.Address, 1280);
        await engineer.SignInAsync("mara@saltmarsh.example", DemoPeople.Password);
        await engineer.GoAsync("/builds");
        await engineer.Page.Locator("table a", new() { HasText = "RH-02" }).First.ClickAsync();
        await engineer.Page.Locator("a", new() { HasText = "third bracket" }).First.ClickAsync();
        await UntilAsync(engineer, new Uri(engineer.Page.Url).AbsolutePath, "it bolts up all the same", "main");
        await engineer.GoAsync("/nonconformances");
        await engineer.Page.Locator("tr", new() { HasText = "RH-140-003" }).Locator("a[href^='/nonconformances/']").First.ClickAsync();
        await Assertions.Expect(engineer.Page.Locator("main")).ToContainTextAsync("bolts up");
        await LookedAtAsync(engineer, "bracket-nonconformance-1280");
        await engineer.WalkAsync();
        // Every choice of what becomes of the piece wants its reason.
        await engineer.Page.Locator("[name=disposition][value='use as is']").CheckAsync();
        await engineer.Page.Locator("form[action^='/nonconformances/'] [name=reason]").FillAsync("The bolt passes; the slot takes the rest.");
        await engineer.Page.Locator("form[action^='/nonconformances/'] button").First.ClickAsync();
        await Assertions.Expect(engineer.Page.Locator("main")).ToContainTextAsync("The bolt passes; the slot takes the rest.");
        await LookedAtAsync(engineer, "bracket-concession-1280");
    }

    [Theory]
    [ClassData(typeof(TwoVariants))]
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
        await UntilAsync(sheet, new Uri(sheet.Page.Url).AbsolutePath, "How it stood", "h2");
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
        await sheet.AtAsync("/uploads/");
        await sheet.Page.Locator("form[action^='/uploads/'] button").First.ClickAsync();
        await sheet.AtAsync("/reports/");
    }

    /// <summary>Opens the page again until the job has looked; a minute is enough for any machine, a look that failed once included.</summary>
    private async Task UntilAsync(Sheet sheet, string path, string said, string where = "h1")
    {
        for (var patience = 0; patience < 120; patience++)
        {
            await sheet.GoAsync(path);
            if (await sheet.Page.Locator(where, new() { HasText = said }).CountAsync() > 0)
                return;
            await Task.Delay(500, TestContext.Current.CancellationToken);
        }

        Assert.Fail($"{path} never said “{said}”. Still owed: {await demo.OwedAsync()}.");
    }
}
