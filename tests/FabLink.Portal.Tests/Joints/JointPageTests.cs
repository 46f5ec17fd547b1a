using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Joints;

/// <summary>The page of a joint over HTTP.</summary>
public sealed class JointPageTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private Scene Scene => portal.Scene;

    [Fact]
    public async Task Swapped_names_are_asked_about_in_the_first_sentence()
    {
        var carrier = await Carrier.TackedAsync(Scene);
        var joint = await carrier.JointAsync(await carrier.SurveyedWithAsync("arm", "hole,x,y,diameter\n1,0,100,13.5\n2,0,0,13.5\n3,200,0,13.5\n4,200,100,13.5\n"));
        await LookedAsync(carrier);
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        var page = await mara.GetAsync($"/joints/{joint}");
        Assert.Matches("^As drawn, it does not bolt up: .* mm too far\\. Are names swapped, or is this another part\\?$", page.Find("h1").TextContent.Trim());
        Assert.Contains("are names swapped, or is this another part?", page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Open all", page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_joint_that_holds_a_piece_asks_why_it_is_taken_out()
    {
        var carrier = await Carrier.TackedAsync(Scene);
        var joint = await carrier.JointAsync(await carrier.SurveyedAsync(0.9m, 0.9m, -0.9m, -0.9m));
        await LookedAsync(carrier);
        using var mara = await portal.SignInAsync("mara@saltmarsh.example");
        Assert.Null((await mara.GetAsync($"/joints/{joint}")).Document.QuerySelector("[name=Because]"));
        await carrier.SubmitAsync(carrier.Measured(carrier.Piece, [-0.7m, -0.7m, 0.7m, 0.7m]));
        await LookedAsync(carrier);

        await mara.GetAsync($"/joints/{joint}");
        await mara.SubmitAsync($"form[action='/joints/{joint}/remove']", [("Because", " ")]);
        Assert.Equal(System.Net.HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        Assert.Contains("Say why the joint goes although it holds a piece.", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync($"form[action='/joints/{joint}/remove']", [("Because", "The carrier is made anew.")]);
        Assert.Equal($"/builds/{carrier.Build}", mara.Page.Address.AbsolutePath);
        Assert.Contains("may go on, and the shop is told", mara.Page.Text, StringComparison.Ordinal);
    }

    /// <summary>The portal's own job may be at it already.</summary>
    private async Task LookedAsync(Carrier carrier)
    {
        for (var i = 0; i < 100; i++)
        {
            await carrier.Job.RunDueAsync(TestContext.Current.CancellationToken);
            if (await Scene.AskAsync<long>("select count(*) from outbox where kind like 're-check%' and done_at is null") == 0)
                return;
            await Task.Delay(100, TestContext.Current.CancellationToken);
        }

        Assert.Fail("The joint was not looked at within ten seconds.");
    }
}
