using System.Text;
using FabLink.Portal.Tests.WorkOrders;
using FabLink.Testing;
using Microsoft.Playwright;

namespace FabLink.Browser.Tests;

/// <summary>A portal with people, shops and a build, and nothing made yet.</summary>
public sealed class MainJobHost : IAsyncLifetime
{
    private PortalUnderTest _portal = null!;

    public Scene Scene { get; private set; } = null!;

    public string Address => _portal.Address.GetLeftPart(UriPartial.Authority);

    public async ValueTask InitializeAsync()
    {
        _portal = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string> { ["SignIn:PerMinute"] = "1000" }));
        Scene = await Scene.InAsync(_portal.Database.OwnerConnectionString);
    }

    public async ValueTask DisposeAsync()
    {
        await Scene.DisposeAsync();
        await _portal.DisposeAsync();
    }
}

/// <summary>
/// From a drawing to a received piece with the hands of the people: every form is filled and sent in the browser, which refuses what no portal ever
/// sees (a required field that is empty, a number out of its range).
/// </summary>
public sealed class MainJobTests(Chromium chromium, MainJobHost host) : IClassFixture<MainJobHost>
{
    [Fact]
    public async Task From_a_drawing_to_a_received_piece()
    {
        await using var mara = await OpenAsync("mara@saltmarsh.example", 1280);
        await using var ida = await OpenAsync("ida@holmlane.example", 390);
        await using var wren = await OpenAsync("wren@teal.example", 390);

        await DrawAsync(mara);
        var order = await OrderAsync(mara);
        var piece = await AnswerAsync(ida, order);
        await AskAsync(ida, mara, order);
        await TackAsync(ida, piece);
        await GoOnAsync(ida, piece, "weld");
        await GoOnAsync(ida, piece, "inspect");
        await MeasureAsync(ida, piece, "before coat", ("2  ", "13.6"));
        await CoatAsync(wren, piece);
        await GoOnAsync(mara, piece, "receive");
        await SeesAsync(mara, $"{Number}-001 is through its route");
        await mara.GoAsync("/board?Done=true");
        await SeesAsync(mara, $"{Number}-001");
    }

    private const string Number = "RH-190";

    private static async Task DrawAsync(Sheet mara)
    {
        await mara.GoAsync("/parts/new");
        await mara.Page.FillAsync("[name=Number]", Number);
        await mara.Page.FillAsync("[name=Name]", "Winch foot");
        await mara.Page.FillAsync("[name=GeneralTolerance]", "ISO 13920-BF");
        await PressAsync(mara, "Make the part");
        var revision = new Uri(mara.Page.Url).AbsolutePath;

        await mara.Page.SetInputFilesAsync("input[name=files]", new FilePayload { Name = "foot.pdf", MimeType = "application/pdf", Buffer = "%PDF-1.4\n%%EOF\n"u8.ToArray() });
        await PressAsync(mara, "Add them");
        await SeesAsync(mara, "foot.pdf");

        await mara.GoAsync(revision + "/characteristics");
        foreach (var (row, balloon, requirement, stages) in new[] { (0, "1", "120 ±0.5", "tack"), (1, "2", "Ø13.5 ±0.2", "before coat"), (2, "3", "60-120 µm", "after coat") })
        {
            await mara.Page.FillAsync($"[name='Rows[{row}].Balloon']", balloon);
            await mara.Page.FillAsync($"[name='Rows[{row}].Requirement']", requirement);
            await mara.Page.FillAsync($"[name='Rows[{row}].Stages']", stages);
        }

        await PressAsync(mara, "Save the table");
        await SeesAsync(mara, "3 characteristics are saved");
        await PressAsync(mara, "Release revision A");
        await SeesAsync(mara, "Revision A is released and does not change");
    }

    private static async Task<string> OrderAsync(Sheet mara)
    {
        await mara.GoAsync("/orders/new");
        await mara.Page.SelectOptionAsync("[name=ShopId]", new SelectOptionValue { Label = "Holm Lane Fabrication" });
        await mara.Page.SelectOptionAsync("[name='Lines[0].RevisionId']", new SelectOptionValue { Label = $"{Number} A Winch foot" });
        await mara.Page.FillAsync("[name='Lines[0].NeedDate']", DateTime.UtcNow.AddDays(14).ToString("yyyy-MM-dd"));
        await PressAsync(mara, "Save the draft");
        await SeesAsync(mara, "Draft, not issued yet");
        await PressAsync(mara, "Issue to Holm Lane Fabrication");
        await SeesAsync(mara, "Waiting to be accepted");
        return new Uri(mara.Page.Url).AbsolutePath;
    }

    private static async Task<string> AnswerAsync(Sheet ida, string order)
    {
        await ida.GoAsync(order);
        await PressAsync(ida, "Accept");
        await ida.Page.Locator("a[href$='/promise']").First.ClickAsync();
        await ida.Page.FillAsync("[name=Date]", DateTime.UtcNow.AddDays(12).ToString("yyyy-MM-dd"));
        await PressAsync(ida, "Promise");
        await SeesAsync(ida, "Promised for");
        return await ida.Page.Locator("a[href^='/pieces/']").First.GetAttributeAsync("href") ?? throw new InvalidOperationException("The order has no piece.");
    }

    private static async Task AskAsync(Sheet ida, Sheet mara, string order)
    {
        await ida.GoAsync(order + "/ask");
        await ida.Page.FillAsync("[name=Body]", "May the foot be tacked from below?");
        await PressAsync(ida, "Ask");
        await SeesAsync(ida, "Waiting for the answer of Saltmarsh Works");
        await mara.GoAsync(order);
        await mara.Page.FillAsync("[name=answer]", "Yes.");
        await PressAsync(mara, "Send the answer");
        await SeesAsync(mara, "runs again");
    }

    /// <summary>The first measurement fails and holds; what was typed wrongly is asked for; the corrected one lets the piece go on.</summary>
    private static async Task TackAsync(Sheet ida, string piece)
    {
        await GoOnAsync(ida, piece, "cut");
        await GoOnAsync(ida, piece, "fit and tack");
        await SeesAsync(ida, "Held after fit and tack until it is measured");
        await MeasureAsync(ida, piece, "tack", ("1  ", "4.72"));
        await SeesAsync(ida, "near it when read in inches");
        await ida.Page.GetByLabel("1  ").First.FillAsync("121,2");
        await PressAsync(ida, "Submit it as it stands now");
        await SeesAsync(ida, "Does not conform at tack: stop before weld");
        await ida.GoAsync(piece);
        await SeesAsync(ida, "does not conform: stop");

        var line = await ida.Page.EvaluateAsync<string>("() => [...document.querySelectorAll('a')].map(a => a.getAttribute('href')).find(a => a?.startsWith('/orders/'))");
        await ida.GoAsync(line);
        await ida.Page.Locator("a[href$='/measure']").First.ClickAsync();
        await ida.Page.SetInputFilesAsync("input[type=file]", new FilePayload { Name = "tack.csv", MimeType = "text/csv", Buffer = Encoding.UTF8.GetBytes("balloon;value;unit\n1;120,1;mm\n") });
        await ida.Page.Locator("form[enctype] button").ClickAsync();
        await SeesAsync(ida, "Nothing that this stage asks for is missing.");
        await PressAsync(ida, "Submit the report");
        await SeesAsync(ida, "Conforms at tack");
    }

    private static async Task CoatAsync(Sheet wren, string piece)
    {
        await GoOnAsync(wren, piece, "blast");
        await GoOnAsync(wren, piece, "powder coat");
        await SeesAsync(wren, "your steps are done");
        await wren.GoAsync("/steps");
        await wren.Page.GetByText("Measure at after coat").ClickAsync();
        await wren.Page.GetByLabel("3  ").First.FillAsync("85");
        await PressAsync(wren, "Submit the report");
        await SeesAsync(wren, "Conforms at after coat");
        await wren.GoAsync("/steps");
        await Assertions.Expect(wren.Page.GetByText("Measure at after coat")).ToHaveCountAsync(0);
    }

    private static async Task GoOnAsync(Sheet who, string piece, string step)
    {
        await who.GoAsync(piece);
        await PressAsync(who, $"Start {step}");
        await who.GoAsync(piece);
        await PressAsync(who, $"{char.ToUpperInvariant(step[0])}{step[1..]} is done");
        await who.GoAsync(piece);
    }

    private static async Task MeasureAsync(Sheet who, string piece, string stage, params (string Label, string Value)[] values)
    {
        await who.GoAsync($"{piece}/measure/{stage}");
        foreach (var (label, value) in values)
            await who.Page.GetByLabel(label).First.FillAsync(value);
        await PressAsync(who, "Submit the report");
    }

    /// <summary>The button that says this; what the browser itself will not send is named.</summary>
    private static async Task PressAsync(Sheet who, string says)
    {
        var button = who.Page.GetByRole(AriaRole.Button, new() { Name = says, Exact = true }).First;
        var refused = await button.EvaluateAsync<string[]>("""
            b => b.formNoValidate || !b.form ? [] : [...b.form.elements].filter(e => e.willValidate && !e.checkValidity()).map(e => `${e.name}: ${e.validationMessage}`)
            """);
        Assert.Empty(refused);
        await who.PressAsync(button);
    }

    private static Task SeesAsync(Sheet who, string text) =>
        Assertions.Expect(who.Page.Locator("body")).ToContainTextAsync(text);

    private async Task<Sheet> OpenAsync(string email, int width)
    {
        var sheet = await chromium.OpenAsync(host.Address, width);
        await sheet.SignInAsync(email, Scene.Password);
        return sheet;
    }
}
