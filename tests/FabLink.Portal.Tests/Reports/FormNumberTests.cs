using System.Net;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Reports;

/// <summary>A decimal comma in a form is a decimal comma, as on drawings and in files.</summary>
public sealed class FormNumberTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    [Fact]
    public async Task A_comma_is_a_decimal_mark_and_what_is_no_number_is_said_once()
    {
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync("/instruments/new");
        await mara.SubmitAsync("main form", [("Name", "caliper 9"), ("Resolution", "0,01"), ("Uncertainty", "about 3")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains("“about 3” is not a number", mara.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("must not be empty", mara.Page.Text, StringComparison.Ordinal);
        Assert.Equal("about 3", mara.Page.Find("[name=Uncertainty]").GetAttribute("value"));

        await mara.SubmitAsync("main form", [("Uncertainty", "1,234.5")]);
        Assert.Contains("more than one decimal mark", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("main form", [("Uncertainty", "0")]);
        Assert.Contains("No instrument is without uncertainty", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("main form", [("Uncertainty", "0.0000000000000001")]);
        Assert.Contains("finer than a tenth of its smallest step", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("main form", [("Uncertainty", "99999999999999999999")]);
        Assert.Contains("At most 1000.", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("main form", [("Uncertainty", "0,03")]);
        Assert.Equal("0.01 0.03", await portal.Scene.AskAsync<string>("select resolution || ' ' || uncertainty from instrument where name = 'caliper 9'"));
    }
}
