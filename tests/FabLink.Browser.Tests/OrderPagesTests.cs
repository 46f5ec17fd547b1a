using System.Text.RegularExpressions;
using FabLink.Portal.Features.Questions;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>A portal with an order in every state that its pages know.</summary>
public sealed class OrdersHost : IAsyncLifetime
{
    private PortalUnderTest _portal = null!;

    public Scene Scene { get; private set; } = null!;

    public string Address => _portal.Address.GetLeftPart(UriPartial.Authority);

    public Guid Draft { get; private set; }

    public Guid Issued { get; private set; }

    public Guid Busy { get; private set; }

    public Guid HeldPiece { get; private set; }

    public Guid Slip { get; private set; }

    public async ValueTask InitializeAsync()
    {
        var cancellation = TestContext.Current.CancellationToken;
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["SignIn:PerMinute"] = "1000" }));
        Scene = await Scene.InAsync(_portal.Database.OwnerConnectionString);
        Draft = await Scene.DraftAsync(Scene.Line(), Scene.Line(Scene.BracketA, 4));
        Issued = await Scene.IssuedAsync();
        var shipped = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 3, route: [new("cut", null, null), new("powder coat", Scene.Teal, "after coat"), new("receive", Scene.Saltmarsh, null)]));
        await Scene.DoAsync(Scene.Ida, shipped, "cut");
        var outcome = await new ShipPieces.Handler(Scene.Database, Scene.Clock).HandleAsync(
            Scene.Ida, new(shipped, [.. (await Scene.PiecesAsync(shipped)).Take(2)], "two crates, on your rack"), cancellation);
        Slip = ((ShipPieces.Outcome.Shipped)outcome).Id;

        Busy = await Scene.AcceptedAsync(Scene.Line(need: Scene.Today.AddDays(9)), Scene.Line(Scene.BracketA, 4));
        await Scene.StartAsync(Scene.Ida, await Scene.StepsAsync(Busy, "cut"));
        var cut = await Scene.StepsAsync(Busy, "cut");
        await Scene.FinishAsync(Scene.Ida, cut[0]);
        var tack = (await Scene.StepsAsync(Busy, "fit and tack"))[0];
        await Scene.StartAsync(Scene.Ida, tack);
        await Scene.FinishAsync(Scene.Mara, tack);
        HeldPiece = (await Scene.PiecesAsync(Busy))[0];
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @Busy and ordinal = 1", new { Busy });
        var promise = new MakePromise.Handler(Scene.Database, Scene.Clock);
        await promise.HandleAsync(Scene.Ida, new(Busy, line, Scene.Today.AddDays(8), null), cancellation);
        Scene.Clock.Advance(TimeSpan.FromMinutes(5));
        await promise.HandleAsync(Scene.Ned, new(Busy, line, Scene.Today.AddDays(12), "plate comes late"), cancellation);
        var ask = new AskQuestion.Handler(Scene.Database, Scene.Clock);
        var asked = (AskQuestion.Outcome.Asked)await ask.HandleAsync(Scene.Ida, new(Busy, null, null, "May we weld the lower pad last?"), cancellation);
        await new AnswerQuestion.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Mara, new(asked.Id, "Yes, after the upper one has been checked."), cancellation);
        await ask.HandleAsync(Scene.Ida, new(Busy, null, Scene.CradleBore, "Is 25 ±0.1 meant before or after coat?"), cancellation);
    }

    public async ValueTask DisposeAsync()
    {
        await Scene.DisposeAsync();
        await _portal.DisposeAsync();
    }
}

public sealed class OrderPagesTests(Chromium chromium, OrdersHost host) : IClassFixture<OrdersHost>
{
    [Theory]
    [ClassData(typeof(TwoVariants))]
    public async Task The_pages_of_the_build_shop_stand(int width, bool dark)
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", width, dark);
        await Assert.MultipleAsync(
            () => LookAsync(sheet, "orders", "/orders", width, dark),
            () => LookAsync(sheet, "order-draft", $"/orders/{host.Draft}", width, dark),
            () => LookAsync(sheet, "order-edit", $"/orders/{host.Draft}/edit", width, dark),
            () => LookAsync(sheet, "order-owner", $"/orders/{host.Busy}", width, dark),
            () => LookAsync(sheet, "piece-owner", $"/pieces/{host.HeldPiece}", width, dark));
    }

    [Theory]
    [ClassData(typeof(TwoVariants))]
    public async Task The_pages_of_the_shop_stand(int width, bool dark)
    {
        await using var sheet = await SignedInAsync("ida@holmlane.example", width, dark);
        await Assert.MultipleAsync(
            () => LookAsync(sheet, "order-issued", $"/orders/{host.Issued}", width, dark),
            () => LookAsync(sheet, "order-shop", $"/orders/{host.Busy}", width, dark),
            () => LookAsync(sheet, "order-ask", $"/orders/{host.Busy}/ask", width, dark),
            () => LookAsync(sheet, "order-ship", $"/orders/{host.Busy}/ship", width, dark),
            () => LookAsync(sheet, "slip", $"/slips/{host.Slip}", width, dark),
            () => LookAsync(sheet, "piece-shop", $"/pieces/{host.HeldPiece}", width, dark));
    }

    [Theory]
    [ClassData(typeof(TwoVariants))]
    public async Task The_pages_of_the_coater_stand(int width, bool dark)
    {
        await using var sheet = await SignedInAsync("wren@teal.example", width, dark);
        await Assert.MultipleAsync(
            () => LookAsync(sheet, "steps", "/steps", width, dark),
            () => LookAsync(sheet, "piece-coater", $"/pieces/{host.HeldPiece}", width, dark));
    }

    /// <summary>On paper stands what is true; what is only for acting on the screen is left out.</summary>
    [Fact]
    public async Task A_printed_order_shows_its_facts_and_nothing_to_press_or_fill_in()
    {
        await using var sheet = await SignedInAsync("mara@saltmarsh.example", 1280, false);
        await sheet.GoAsync($"/orders/{host.Busy}");
        await sheet.Page.EmulateMediaAsync(new() { Media = Media.Print });
        Assert.Equal(0, await sheet.Page.Locator("main :is(button, input, textarea, summary):visible").CountAsync());
        await Assertions.Expect(sheet.Page.Locator("h2", new() { HasText = "To do now" })).ToBeHiddenAsync();
        await Assertions.Expect(sheet.Page.GetByText("Send measurements").First).ToBeHiddenAsync();
        await Assertions.Expect(sheet.Page.GetByText("Change on behalf").First).ToBeHiddenAsync();
        await Assertions.Expect(sheet.Page.GetByText("Furthest behind").First).ToBeVisibleAsync();
        await Assertions.Expect(sheet.Page.GetByText("plate comes late").First).ToBeVisibleAsync();

        await using var coater = await SignedInAsync("wren@teal.example", 1280, false);
        await coater.Page.EmulateMediaAsync(new() { Media = Media.Print });
        await Assertions.Expect(coater.Page.Locator(".step-group legend").First).ToContainTextAsync("Start powder coat: ");
        Assert.Equal(0, await coater.Page.Locator(".step-group :is(input, button):visible").CountAsync());
    }

    [Fact]
    public async Task The_keyboard_alone_drafts_an_order()
    {
        await using var sheet = await SignedInAsync("ned@saltmarsh.example", 1280, false);
        await sheet.GoAsync("/orders/new");
        var stops = await sheet.WalkAsync();
        Assert.Contains("button Save the draft", stops);
    }

    private async Task<Sheet> SignedInAsync(string email, int width, bool dark)
    {
        var sheet = await chromium.OpenAsync(host.Address, width, dark);
        await sheet.GoAsync("/sign-in?to=/steps");
        await sheet.Page.Locator("form:has(input[type=password]) input[name=Email]").FillAsync(email);
        await sheet.Page.Locator("input[type=password]").FillAsync(Scene.Password);
        await sheet.Page.Locator("form:has(input[type=password]) button:not([formaction])").ClickAsync();
        await sheet.AtAsync("^[^?]*/steps$");
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
