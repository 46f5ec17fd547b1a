using System.Net;
using FabLink.Portal.Features.WorkOrders;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>Orders that are over, and the questions on them.</summary>
public sealed class QuestionPageTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private Scene Scene => portal.Scene;

    [Fact]
    public async Task A_question_is_asked_and_answered_on_a_cancelled_order_and_on_one_put_away_what_was_typed_stands_again()
    {
        var order = await Scene.AcceptedAsync(Scene.Line());
        var close = new CloseWorkOrder.Handler(Scene.Database, Scene.Clock);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(Scene.Ned, new(order, "not needed"), TestContext.Current.CancellationToken));
        using var ida = await portal.SignInAsync("ida@holmlane.example");
        await ida.GetAsync($"/orders/{order}");
        await ida.GetAsync(ida.Page.Find("a[href$='/ask']").GetAttribute("href")!);
        await ida.SubmitAsync("form.form", [("Body", "Scrap the cut plates?")]);
        Assert.Contains("Cancelled, and a question waits for the answer of Saltmarsh Works", ida.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("The clock of", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains((await new ListWorkOrders.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new("ours"), TestContext.Current.CancellationToken))!.Rows, row => row.Facts.Id == order);
        using var ned = await portal.SignInAsync("ned@saltmarsh.example");
        await ned.GetAsync($"/orders/{order}");
        await ned.SubmitAsync("form[action$='/answer']", [("answer", "Send them.")]);
        Assert.Contains("Answered; the shop is told.", ned.Page.Text, StringComparison.Ordinal);

        Assert.Contains((await new ListWorkOrders.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new("closed"), TestContext.Current.CancellationToken))!.Rows, row => row.Facts.Id == order);
        Assert.DoesNotContain((await new ListWorkOrders.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new("ours"), TestContext.Current.CancellationToken))!.Rows, row => row.Facts.Id == order);

        // What is through is not put away over a question.
        var through = await Scene.AcceptedAsync(Scene.Line(route: [new("cut", null, null)]));
        await Scene.DoAsync(Scene.Ida, through, "cut");
        await ida.GetAsync($"/orders/{through}/ask");
        await ida.SubmitAsync("form.form", [("Body", "Keep the jig?")]);
        Assert.IsType<CloseWorkOrder.Outcome.StillAsked>(await close.HandleAsync(Scene.Ned, new(through), TestContext.Current.CancellationToken));

        var declined = await Scene.IssuedAsync(Scene.Line());
        await ida.GetAsync($"/orders/{declined}/ask");
        Assert.IsType<OrderAnswer.Given>(await new DeclineWorkOrder.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ida, new(declined, "no plate"), TestContext.Current.CancellationToken));
        await ida.SubmitAsync("form.form", [("Body", "A plate of 18 mm instead?")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Equal("A plate of 18 mm instead?", ida.Page.Find("textarea[name=Body]").TextContent.Trim());
        Assert.Contains("was declined on", ida.Page.Find(".errors, [role=alert]").TextContent, StringComparison.Ordinal);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(Scene.Ned, new(declined), TestContext.Current.CancellationToken));
        await ida.GetAsync($"/orders/{declined}/ask");
        Assert.Equal($"/orders/{declined}", ida.Page.Address.AbsolutePath);
        Assert.Contains("and is closed. No question is asked on it.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("a[href$='/ask']"));
        Assert.Equal(0, await Scene.AskAsync<long>("select count(*) from question where work_order_id = @declined", new { declined }));
    }

    [Fact]
    public async Task What_is_cancelled_is_not_late()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(need: new DateOnly(2026, 1, 5)));
        var serial = await Scene.AskAsync<string>("select serial from piece where work_order_id = @order", new { order });
        using var ned = await portal.SignInAsync("ned@saltmarsh.example");
        async Task<string> RowAsync() => (await ned.GetAsync("/board?Done=true")).Document.QuerySelectorAll("table tr").Single(row => row.TextContent.Contains(serial!, StringComparison.Ordinal)).TextContent;
        Assert.Contains("late", await RowAsync(), StringComparison.Ordinal);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new(order, "not needed"), TestContext.Current.CancellationToken));
        Assert.DoesNotContain("late", await RowAsync(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_comes_too_late_for_a_cancelled_order_is_refused_with_its_reason()
    {
        var order = await Scene.AcceptedAsync(Scene.Line());
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        using var ida = await portal.SignInAsync("ida@holmlane.example");
        await ida.GetAsync($"/orders/{order}/lines/{line}/promise");
        using var shop = await portal.SignInAsync("ida@holmlane.example");
        await shop.GetAsync($"/orders/{order}");
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new(order, "customer gone"), TestContext.Current.CancellationToken));

        await ida.SubmitAsync("form.form", [("Date", Scene.Today.AddDays(3).ToString("yyyy-MM-dd"))]);
        Assert.Matches("Nothing was promised: WO-[0-9]+ is cancelled: customer gone[.]", ida.Page.Text);
        await shop.SubmitAsync("form[action='/steps/start']");
        Assert.Matches("was not started. WO-[0-9]+ is cancelled: customer gone[.] Nothing more is done with the piece[.]", shop.Page.Text);
    }
}
