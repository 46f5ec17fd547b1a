using System.Net;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Chains;

/// <summary>Chains and pairs over HTTP, without scripts.</summary>
public sealed class ChainPageTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private Scene Scene => portal.Scene;

    [Fact]
    public async Task A_chain_is_typed_put_right_kept_and_changed_and_nothing_typed_is_lost()
    {
        var tube = await new Parts(Scene).OrderedAsync("T");
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync($"/builds/{Scene.Build}/chains/new");
        await mara.SubmitAsync("#chain-form", [("Name", "rail to rail"), ("Closing", "gap"), ("RequiredLower", "0,5"), ("RequiredUpper", "3"),
            ("Links[0].Name", "rails"), ("Links[0].From", "1182 ±0.3"), ("Links[1].Name", "tube"), ("Links[1].Sensitivity", "-1"), ("Links[1].From", $"{tube.Number} 7")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains($"Row 2: {tube.Number} has no balloon 7", mara.Page.Text, StringComparison.Ordinal);
        Assert.Equal("1182 ±0.3", mara.Page.Find("[name='Links[0].From']").GetAttribute("value"));
        Assert.Equal("true", mara.Page.Find("[name='Links[1].From']").GetAttribute("aria-invalid"));

        await mara.SubmitAsync("#chain-form", [("Links[1].From", $"{tube.Number} 1")]);
        Assert.StartsWith("/chains/", mara.Page.Address.AbsolutePath, StringComparison.Ordinal);
        Assert.Contains("It will close", mara.Page.Text, StringComparison.Ordinal);
        var chain = mara.Page.Address.AbsolutePath;

        await new Parts(Scene).MeasuredAsync(tube, tube.Length, 1181.8m, 0.1m);
        await mara.GetAsync(chain);
        Assert.Contains("as built so far", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Tube, measured 1181.8 mm, used the most", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("are required", mara.Page.Text, StringComparison.Ordinal);

        await mara.GetAsync(chain + "/edit");
        Assert.Equal($"{tube.Number} 1", mara.Page.Find("[name='Links[1].From']").GetAttribute("value"));
        await mara.SubmitAsync("#chain-form", [("Links[0].From", "1184 ±0.3"), ("Links[2].Name", "shim"), ("Links[2].Sensitivity", "-1"), ("Links[2].From", "0.5")]);
        Assert.Contains("3 links", mara.Page.Text, StringComparison.Ordinal);
        await mara.GetAsync($"/builds/{Scene.Build}/chains");
        Assert.Contains("rail to rail", mara.Page.Text, StringComparison.Ordinal);
        await mara.GetAsync(chain);
        await mara.SubmitAsync($"form[action='{chain}/remove']");
        Assert.DoesNotContain("rail to rail", mara.Page.Text, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await mara.GetAsync(chain)).Status);
    }

    [Fact]
    public async Task More_rows_keep_what_was_typed()
    {
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync($"/builds/{Scene.Build}/chains/new");
        var rows = mara.Page.Document.QuerySelectorAll("[name$='.From']").Length;
        await mara.SubmitAsync("button[name=more]", [("Name", "half done"), ("Links[5].From", "12 ±0.1")]);

        Assert.Equal(rows + 4, mara.Page.Document.QuerySelectorAll("[name$='.From']").Length);
        Assert.Equal("half done", mara.Page.Find("[name=Name]").GetAttribute("value"));
        Assert.Equal("12 ±0.1", mara.Page.Find("[name='Links[5].From']").GetAttribute("value"));
    }

    [Fact]
    public async Task A_pair_is_typed_and_its_verdict_stands_on_both_pieces_pages_for_the_shop_that_makes_both()
    {
        var parts = new Parts(Scene);
        var (left, right) = (await parts.OrderedAsync("L"), await parts.OrderedAsync("R"));
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        await mara.GetAsync($"/builds/{Scene.Build}/pairs/new");
        await mara.SubmitAsync("form.form", [("Name", "pad angles"), ("Left", $"{left.Number} 2"), ("Right", $"{right.Number} 1"), ("Within", "0.5")]);
        Assert.Contains("An angle is not compared with a length", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("form.form", [("Right", $"{right.Number} 2")]);
        Assert.Equal($"/builds/{Scene.Build}/chains", mara.Page.Address.AbsolutePath);

        await parts.MeasuredAsync(left, left.Angle, 31.1m * 3600, 360m);
        await parts.RecheckAsync(await parts.MeasuredAsync(right, right.Angle, 29.9m * 3600, 360m));
        await mara.GetAsync($"/builds/{Scene.Build}/chains");
        Assert.Contains("does not conform", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("1.2°", mara.Page.Text, StringComparison.Ordinal);
        using var ida = await portal.SignInAsync("ida@holmlane.example");
        foreach (var piece in new[] { left.Pieces[0], right.Pieces[0] })
        {
            await ida.GetAsync($"/pieces/{piece}");
            Assert.Contains("Beside its mate", ida.Page.Text, StringComparison.Ordinal);
            Assert.DoesNotContain("Agrees", ida.Page.Text, StringComparison.Ordinal);
            Assert.Contains("pad angles", ida.Page.Text, StringComparison.Ordinal);
        }
    }
}
