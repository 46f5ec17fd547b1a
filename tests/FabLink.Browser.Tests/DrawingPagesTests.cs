using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>A portal with a released part that has a piece in work, and a welded draft with something in every column.</summary>
public sealed class DrawingsHost : IAsyncLifetime
{
    private PortalUnderTest _portal = null!;

    public Scene Scene { get; private set; } = null!;

    public string Address => _portal.Address.GetLeftPart(UriPartial.Authority);

    public CreatePart.Outcome.Created Draft { get; private set; } = null!;

    public CreatePart.Outcome.Created Empty { get; private set; } = null!;

    public Guid Released { get; private set; }

    public Guid ReleasedDrawing { get; private set; }

    public async ValueTask InitializeAsync()
    {
        var cancellation = TestContext.Current.CancellationToken;
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["SignIn:PerMinute"] = "1000" }));
        Scene = await Scene.InAsync(_portal.Database.OwnerConnectionString);
        Draft = await PartAsync("RH-160", welded: true);
        Empty = await PartAsync("RH-170", welded: false);
        await new EditCharacteristics.Handler(Scene.Database, Scene.Clock).HandleAsync(
            Scene.Mara,
            new(Draft.RevisionId, 1,
            [
                new() { Balloon = "1", Requirement = "120 ±0.5", Name = "overall length", Stages = "tack, as welded", Class = "critical" },
                new() { Balloon = "2", Requirement = "10× Ø13.5 +0.27/0", Stages = "as welded", Class = "major", Rounding = "absolute" },
                new() { Balloon = "3", Requirement = "Ø0.75", Kind = "position", Datums = "A B C", Stages = "as machined", Class = "major" },
                new() { Balloon = "4", Requirement = "60-120 µm", Stages = "after coat" },
                new() { Balloon = "5", Requirement = "go/no-go: M12-6H", Stages = "after coat" },
            ]),
            cancellation);
        await Scene.AcceptedAsync(Scene.Line());
        Released = Scene.CradleA;
        ReleasedDrawing = await Scene.AskAsync<Guid>("select drawing_id from revision where id = @Released", new { Released });
    }

    public async ValueTask DisposeAsync()
    {
        await Scene.DisposeAsync();
        await _portal.DisposeAsync();
    }

    private async Task<CreatePart.Outcome.Created> PartAsync(string number, bool welded) =>
        (CreatePart.Outcome.Created)await new CreatePart.Handler(Scene.Database, Scene.Clock).HandleAsync(
            Scene.Mara, new(number, "Winch bracket", Welded: welded), TestContext.Current.CancellationToken);
}

public sealed class DrawingPagesTests(Chromium chromium, DrawingsHost host) : IClassFixture<DrawingsHost>
{
    [Theory]
    [ClassData(typeof(TwoVariants))]
    public async Task The_pages_of_parts_and_revisions_stand(int width, bool dark)
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", width, dark);
        await LookAsync(sheet, "parts", "/parts", width, dark);
        await LookAsync(sheet, "part-new", "/parts/new", width, dark);
        await LookAsync(sheet, "part", $"/parts/{host.Scene.Cradle}", width, dark);
        await LookAsync(sheet, "revision-empty", $"/revisions/{host.Empty.RevisionId}", width, dark);
        await LookAsync(sheet, "revision-draft", $"/revisions/{host.Draft.RevisionId}", width, dark);
        await LookAsync(sheet, "revision-released", $"/revisions/{host.Released}", width, dark);
        await LookAsync(sheet, "revision-edit", $"/revisions/{host.Draft.RevisionId}/edit", width, dark);
        await LookAsync(sheet, "characteristics", $"/revisions/{host.Draft.RevisionId}/characteristics", width, dark);
        await LookAsync(sheet, "characteristics-import", $"/revisions/{host.Draft.RevisionId}/characteristics/import", width, dark);
        await LookAsync(sheet, "builds", "/builds", width, dark);
        await LookAsync(sheet, "build-new", "/builds/new", width, dark);
    }

    [Fact]
    public async Task A_block_from_a_spreadsheet_fills_rows_and_the_keyboard_alone_saves_them()
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", 1280, false);
        await sheet.GoAsync($"/revisions/{host.Empty.RevisionId}/characteristics");
        var page = sheet.Page;
        var lines = Enumerable.Range(1, 12).Select(row => $"{row}\t{row}0 ±0.{row}\tedge {row}\ttack");
        await page.EvaluateAsync(
            """
            text => {
              const data = new DataTransfer();
              data.setData('text/plain', text);
              document.querySelector('[name="Rows[0].Balloon"]').dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
            }
            """,
            string.Join("\r\n", lines) + "\r\n");
        Assert.Equal("edge 12", await page.Locator("[name='Rows[11].Name']").InputValueAsync());

        await page.Locator("[name='Rows[11].Balloon']").FocusAsync();
        await page.Keyboard.PressAsync("Enter");
        await page.Keyboard.TypeAsync("13");
        await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.TypeAsync("4x R5 ±1");
        await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.PressAsync("Tab");
        await page.Keyboard.TypeAsync("\"");
        await page.Keyboard.PressAsync("Shift+Enter");
        Assert.Equal("Checked at, row 12", await page.EvaluateAsync<string>("() => document.activeElement.getAttribute('aria-label')"));
        await page.Keyboard.PressAsync("Control+Enter");

        await sheet.AtAsync($"/revisions/{host.Empty.RevisionId}$");
        Assert.Contains("13 characteristics are saved", await page.Locator(".said").TextContentAsync(), StringComparison.Ordinal);
        Assert.Contains("4× R5 ±1", await page.Locator("main").TextContentAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_pasted_table_with_headings_fills_the_columns_that_they_name()
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", 1280, false);
        await sheet.GoAsync($"/revisions/{host.Draft.RevisionId}/characteristics");
        var page = sheet.Page;
        await page.EvaluateAsync(
            """
            text => {
              const data = new DataTransfer();
              data.setData('text/plain', text);
              document.querySelector('[name="Rows[5].Requirement"]').dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
            }
            """,
            "Revision: A\r\nChecked at\tNo.\tNominal (mm)\tTol.\tUpper tol\tLower tol\tType\tShelf\r\ntack\t6\t12\t0.1\t\t\t\tx\r\nas welded\t7\t13,5\t\t0,3\t0\tdiameter\ty\r\n");
        async Task<string[]> RowAsync(int row) =>
            [.. await Task.WhenAll(new[] { "Balloon", "Requirement", "Stages", "Kind", "Name" }.Select(field => page.Locator($"[name='Rows[{row}].{field}']").InputValueAsync()))];
        Assert.Equal(["6", "12 ±0.1", "tack", "", ""], await RowAsync(5));
        Assert.Equal(["7", "Ø13,5 +0,3/0", "as welded", "diameter", ""], await RowAsync(6));
        Assert.Equal("", await page.Locator("[name='Rows[7].Balloon']").InputValueAsync());
        Assert.Equal("5", await page.Locator("[name='Rows[4].Balloon']").InputValueAsync());
        Assert.Equal("Not read, for their headings say nothing here: Shelf.", await page.Locator("[role=status][data-pasted]").TextContentAsync());
    }

    [Fact]
    public async Task The_keyboard_alone_goes_through_the_table()
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", 1280, false);
        await sheet.GoAsync($"/revisions/{host.Draft.RevisionId}/characteristics");
        var stops = await sheet.WalkAsync();
        Assert.Contains("input Requirement, row 15", stops);
        Assert.Contains("button Save the table", stops);
    }

    private async Task<Sheet> SignedInAsync(string email, int width, bool dark)
    {
        var sheet = await chromium.OpenAsync(host.Address, width, dark);
        await sheet.GoAsync("/sign-in?to=/parts");
        await sheet.Page.Locator("form:has(input[type=password]) input[name=Email]").FillAsync(email);
        await sheet.Page.Locator("input[type=password]").FillAsync(Scene.Password);
        await sheet.Page.Locator("form:has(input[type=password]) button:not([formaction])").ClickAsync();
        await sheet.AtAsync("^[^?]*/parts$");
        return sheet;
    }

    private static async Task LookAsync(Sheet sheet, string name, string path, int width, bool dark)
    {
        await sheet.GoAsync(path);
        await sheet.PictureAsync($"{name}-{width}-{(dark ? "dark" : "light")}");
        await sheet.StandsAsync();
        if (width < 600)
            await sheet.FitsAThumbAsync();
    }
}
