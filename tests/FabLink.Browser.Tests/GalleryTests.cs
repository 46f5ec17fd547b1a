using FabLink.Testing;
using Microsoft.Playwright;
using UglyToad.PdfPig;

namespace FabLink.Browser.Tests;

public class GalleryTests(Chromium chromium, GalleryHost host)
{
    private static string Name(string page, int width, bool dark) => $"{page}-{width}-{(dark ? "dark" : "light")}";

    [Theory]
    [ClassData(typeof(Variants))]
    public async Task Every_element_stands_on_screen_and_phone_by_day_and_night(int width, bool dark)
    {
        await using var sheet = await chromium.OpenAsync(host.Address, width, dark);
        await sheet.GoAsync("/gallery");
        await sheet.PictureAsync(Name("gallery", width, dark));
        await sheet.StandsAsync();
        if (width < 600)
            await sheet.FitsAThumbAsync();
    }

    [Fact]
    public async Task What_every_page_is_held_to_finds_what_is_wrong()
    {
        await using var sheet = await chromium.OpenAsync(host.Address, 390);
        await sheet.Page.SetContentAsync("<!doctype html><html lang=en><title>t</title><main><h1>t</h1><img src='data:,'><p style='color:#bbb'>pale</p><div style='width:500px'>wide</div><button style='height:20px'>small</button></main>");
        var faults = await sheet.FaultsAsync();
        Assert.Contains(faults, fault => fault.StartsWith("image-alt", StringComparison.Ordinal));
        Assert.Contains(faults, fault => fault.StartsWith("color-contrast", StringComparison.Ordinal));
        Assert.Contains(faults, fault => fault.StartsWith("wider than the screen: DIV", StringComparison.Ordinal));
        Assert.Contains(await sheet.SmallTargetsAsync(), target => target.StartsWith("20 px tall", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(1280, false)]
    [InlineData(390, true)]
    public async Task A_board_of_forty_pieces_stands(int width, bool dark)
    {
        await using var sheet = await chromium.OpenAsync(host.Address, width, dark);
        await sheet.GoAsync("/gallery/board?rows=40");
        await sheet.PictureAsync(Name("board", width, dark));
        await sheet.StandsAsync();
        if (width < 600)
            await sheet.FitsAThumbAsync();
    }

    [Theory]
    [InlineData("/gallery/nowhere", 404, "There is no such sheet")]
    [InlineData("/gallery/refusal", 403, "Not yours to do")]
    [InlineData("/gallery/fault", 500, "The portal failed, not you")]
    public async Task What_cannot_be_shown_says_what_to_do(string path, int status, string headline)
    {
        await using var sheet = await chromium.OpenAsync(host.Address, 390);
        var answer = await sheet.GoAsync(path);
        Assert.Equal(status, answer.Status);
        Assert.Equal(headline, await sheet.Page.Locator("h1").TextContentAsync());
        await sheet.PictureAsync($"error-{status}");
    }

    [Fact]
    public async Task The_keyboard_alone_reaches_everything_in_order()
    {
        await using var sheet = await chromium.OpenAsync(host.Address);
        await sheet.GoAsync("/gallery");
        var stops = await sheet.WalkAsync();
        Assert.Equal("a Skip to the sheet", stops[0]);
        Assert.Equal("a FabLink", stops[1]);
        Assert.Contains("button Send the report", stops);
    }

    [Fact]
    public async Task The_skip_link_leads_past_the_navigation()
    {
        await using var sheet = await chromium.OpenAsync(host.Address);
        await sheet.GoAsync("/gallery");
        await sheet.Page.Keyboard.PressAsync("Tab");
        await sheet.Page.Keyboard.PressAsync("Enter");
        await sheet.Page.Keyboard.PressAsync("Tab");
        Assert.Equal("WO-0412", await sheet.Page.EvaluateAsync<string>("() => document.activeElement.textContent"));
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task A_wrong_form_keeps_what_was_typed_and_leads_to_the_field(bool javaScript)
    {
        await using var sheet = await chromium.OpenAsync(host.Address, 390, javaScript: javaScript);
        await sheet.GoAsync("/gallery");
        await sheet.Page.GetByLabel("Piece").FillAsync("");
        await sheet.Page.GetByLabel("Temperature of the part").FillAsync("warm <b>");
        await sheet.Page.GetByLabel("Stage").SelectOptionAsync("as welded");
        await sheet.Page.GetByRole(AriaRole.Button, new() { Name = "Send the report" }).ClickAsync();

        await Assertions.Expect(sheet.Page.GetByRole(AriaRole.Alert)).ToContainTextAsync("2 things to change");
        await Assertions.Expect(sheet.Page.GetByLabel("Temperature of the part")).ToHaveValueAsync("warm <b>");
        await Assertions.Expect(sheet.Page.GetByLabel("Stage")).ToHaveValueAsync("as welded");
        await Assertions.Expect(sheet.Page.GetByLabel("Temperature of the part")).ToHaveAccessibleDescriptionAsync("Leave empty for 20 °C. Write the temperature as a number, such as 23.5.");
        await sheet.Page.GetByRole(AriaRole.Link, new() { Name = "Say which piece was measured" }).ClickAsync();
        await Assertions.Expect(sheet.Page.GetByLabel("Piece")).ToBeFocusedAsync();
        if (javaScript)
        {
            await sheet.PictureAsync("form-errors-390");
            await sheet.StandsAsync();
        }
    }

    [Fact]
    public async Task What_was_done_is_said_once_after_the_redirect()
    {
        await using var sheet = await chromium.OpenAsync(host.Address, javaScript: false);
        await sheet.GoAsync("/gallery");
        await sheet.Page.GetByRole(AriaRole.Button, new() { Name = "Send the report" }).ClickAsync();
        await Assertions.Expect(sheet.Page.GetByRole(AriaRole.Status)).ToHaveTextAsync("Report of piece RH-120-003 taken: 14 values, 2 do not conform.");
        await sheet.GoAsync("/gallery");
        await Assertions.Expect(sheet.Page.GetByRole(AriaRole.Status)).ToHaveCountAsync(0);
    }

    [Fact]
    public async Task A_filter_that_changes_fetches_the_board_anew()
    {
        await using var sheet = await chromium.OpenAsync(host.Address);
        await sheet.GoAsync("/gallery/board?rows=3");
        await sheet.Page.GetByLabel("Shop").SelectOptionAsync("3");
        await Assertions.Expect(sheet.Page.Locator("#board tbody tr")).ToHaveCountAsync(40);
        Assert.Contains("shop=3", sheet.Page.Url, StringComparison.Ordinal);
        await sheet.StandsAsync();
    }

    [Fact]
    public async Task A_printed_sheet_has_its_title_block_and_its_mark_on_each_paper()
    {
        await using var sheet = await chromium.OpenAsync(host.Address);
        await sheet.GoAsync("/gallery/board?rows=150");
        var path = Repository.PathTo("artifacts", "board.pdf");
        await sheet.Page.PdfAsync(new() { Path = path, PreferCSSPageSize = true });

        using var paper = PdfDocument.Open(path);
        Assert.InRange(paper.NumberOfPages, 3, 8);
        foreach (var page in paper.GetPages())
        {
            var words = string.Concat(page.GetWords().Select(static word => word.Text));
            Assert.Contains("Everythingthatisnotonthebenchyet", words, StringComparison.Ordinal);
            Assert.Contains("Confidential:", words, StringComparison.Ordinal);
            Assert.Contains($"{page.Number}of{paper.NumberOfPages}", words, StringComparison.Ordinal);
            Assert.DoesNotContain("Signout", words, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Our_own_fonts_are_used()
    {
        await using var sheet = await chromium.OpenAsync(host.Address);
        await sheet.GoAsync("/gallery");
        await sheet.Page.EvaluateAsync("() => document.fonts.ready");
        var loaded = await sheet.Page.EvaluateAsync<string[]>("() => [...document.fonts].filter(f => f.status === 'loaded').map(f => f.family.replaceAll('\"', '') + ' ' + f.weight)");
        Assert.Contains("Overpass 400", loaded);
        Assert.Contains("Overpass 700", loaded);
        Assert.Contains("Overpass Mono 400", loaded);
    }
}
