using System.Net;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Testing;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>A portal over HTTP with the people of the scene in it.</summary>
public sealed class ScenePortal : IAsyncLifetime
{
    private PortalUnderTest _portal = null!;

    public Scene Scene { get; private set; } = null!;

    /// <summary>Lands on the list of steps, which everybody has.</summary>
    public async Task<Person> SignInAsync(string who)
    {
        var person = await _portal.StrangerAsync();
        await person.GetAsync("/sign-in?to=%2Fsteps");
        await person.SubmitAsync("form:has(input[type=password]) button:not([formaction])", [("Email", who), ("Password", Scene.Password)]);
        Assert.Equal("/steps", person.Page.Address.AbsolutePath);
        return person;
    }

    public Task<Person> StrangerAsync() => _portal.StrangerAsync();

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

public sealed class PageTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private const string Ned = "ned@saltmarsh.example";
    private const string Mara = "mara@saltmarsh.example";
    private const string Ida = "ida@holmlane.example";
    private const string Tom = "tom@dunlin.example";
    private const string Wren = "wren@teal.example";

    private Scene Scene => portal.Scene;

    [Fact]
    public async Task The_list_of_the_coater_and_the_message_after_its_step_say_what_its_film_failed()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(quantity: 2, route: [new("powder coat", Scene.Teal, "after coat"), new("receive", Scene.Saltmarsh, null)]));
        var pieces = await Scene.PiecesAsync(order);
        var coat = await Scene.StepsAsync(order, "powder coat");
        await Scene.StartAsync(Scene.Wren, coat);
        await MeasureAsync(Scene.Wren, pieces[0], "after coat", 26m);
        await Scene.ReportAsync(pieces[1], "after coat", "not proven", ofBore: true);
        var number = await Scene.AskAsync<string>("select number from nonconformance where piece_id = @piece", new { piece = pieces[0] });

        using var wren = await portal.SignInAsync(Wren);
        await wren.GetAsync("/steps");
        Assert.Contains($"does not conform: {number}", wren.Page.Find($"label[for='finish-{coat[0]}']").TextContent, StringComparison.Ordinal);
        Assert.Contains("not proven", wren.Page.Find($"label[for='finish-{coat[1]}']").TextContent, StringComparison.Ordinal);
        await wren.SubmitAsync($"form:has(#finish-{coat[0]})", [("stepIds", coat[0].ToString())]);
        Assert.Contains($" does not conform: {number}.", wren.Page.Text, StringComparison.Ordinal);
        Assert.Contains($"does not conform: {number}", wren.Page.Find($"tr:has(a[href='/pieces/{pieces[0]}/measure/after%20coat'])").TextContent, StringComparison.Ordinal);
    }

    /// <summary>Whoever has the step at the stage of a concession is told and not asked to measure any more; the correction sheet says who let it go.</summary>
    [Fact]
    public async Task What_is_conceded_at_the_stage_of_the_coater_is_told_to_the_coater_and_asked_of_nobody()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("powder coat", Scene.Teal, "after coat"), new("receive", Scene.Saltmarsh, null)]));
        var piece = Assert.Single(await Scene.PiecesAsync(order));
        var report = await Scene.ReportAsync(piece, "after coat", "not proven", ofBore: true);
        await Scene.DoAsync(Scene.Wren, order, "powder coat");
        using var wren = await portal.SignInAsync(Wren);
        await wren.GetAsync("/steps");
        Assert.NotNull(wren.Page.Find($"a[href='/pieces/{piece}/measure/after%20coat']"));

        Scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<Portal.Features.Nonconformances.GrantConcession.Outcome.Granted>(await new Portal.Features.Nonconformances.GrantConcession.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Mara, new(report, "Seen by eye.", null), TestContext.Current.CancellationToken));

        Task<string?> BodyAsync(Actor of) => Scene.AskAsync<string>("select body from notice where piece_id = @piece and person_id = @PersonId and kind = 'released under concession'", new { piece, of.PersonId });
        Assert.EndsWith("Saltmarsh Works goes on with it.", await BodyAsync(Scene.Wren), StringComparison.Ordinal);
        Assert.EndsWith("Saltmarsh Works goes on with it.", await BodyAsync(Scene.Ida), StringComparison.Ordinal);
        await wren.GetAsync("/steps");
        Assert.Empty(wren.Page.Document.QuerySelectorAll($"a[href='/pieces/{piece}/measure/after%20coat']"));
        var sheet = (await new Portal.Features.Joints.ShowCorrection.Handler(Scene.Database).HandleAsync(Scene.Mara, piece, TestContext.Current.CancellationToken))!;
        Assert.Equal("Seen by eye.", Assert.Single(sheet.LetGo).Reason);
    }

    [Fact]
    public async Task Where_something_failed_is_measured_again_from_the_page_of_the_piece_while_a_later_step_is_in_work()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("fit and tack", null, "tack"), new("weld", null, "as welded")]));
        var piece = Assert.Single(await Scene.PiecesAsync(order));
        await Scene.DoAsync(Scene.Ida, order, "fit and tack");
        await Scene.StartAsync(Scene.Ida, await Scene.StepsAsync(order, "weld"));
        await MeasureAsync(Scene.Ida, piece, "tack", 26m);

        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/pieces/{piece}");
        Assert.Equal("Measure at tack", ida.Page.Find($"a.button[href='/pieces/{piece}/measure/tack']").TextContent);
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/pieces/{piece}");
        Assert.Equal("Measure at tack on behalf of Holm Lane Fabrication", mara.Page.Find($"a.button[href='/pieces/{piece}/measure/tack?behalf=1']").TextContent);
    }

    private async Task MeasureAsync(Actor actor, Guid piece, string stage, decimal bore)
    {
        Scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var request = new SubmitReport.Request(stage, [new(piece, [Reports.Flange.Value(Scene.CradleBore, bore)])], null, Guid.CreateVersion7());
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(Scene.Database, Scene.Clock).HandleAsync(actor, request, TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task An_order_is_drafted_issued_accepted_and_promised_on_pages_without_scripts()
    {
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync("/orders/new");
        Assert.Equal(7, ned.Page.Document.QuerySelectorAll("select[name$='.Kind']").Length);
        await ned.SubmitAsync("button[value='drop step 0 4']", [("PurchaseOrderNumber", "PO 4711"), ("Lines[0].Quantity", "2")]);
        Assert.Equal(6, ned.Page.Document.QuerySelectorAll("select[name$='.Kind']").Length);
        Assert.Equal("2", ned.Page.Find("input[name='Lines[0].Quantity']").GetAttribute("value"));
        Assert.Equal("PO 4711", ned.Page.Find("input[name=PurchaseOrderNumber]").GetAttribute("value"));

        await ned.SubmitAsync("form.order-form", [("Lines[0].RevisionId", Scene.BracketA.ToString())]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ned.Page.Status);
        Assert.Contains("Choose the shop that makes the parts.", ned.Page.Text, StringComparison.Ordinal);
        Assert.Contains("on which day", ned.Page.Text, StringComparison.Ordinal);

        await ned.SubmitAsync("form.order-form", [("ShopId", Scene.HolmLane.ToString()), ("Lines[0].NeedDate", Day(20))]);
        Assert.Contains("Draft, not issued yet", ned.Page.Text, StringComparison.Ordinal);
        var order = ned.Page.Address.AbsolutePath;
        await ned.SubmitAsync($"form[action='{order}/issue']");
        Assert.Contains("Waiting to be accepted", ned.Page.Text, StringComparison.Ordinal);

        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync(order);
        Assert.DoesNotContain("on behalf", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync($"form[action='{order}/accept']");
        await ida.GetAsync(ida.Page.Find($"a[href^='{order}/lines/']").GetAttribute("href")!);
        await ida.SubmitAsync("form.form", [("Date", Day(25))]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        Assert.Equal(Day(25), ida.Page.Find("input[name=Date]").GetAttribute("value"));
        await ida.SubmitAsync("form.form", [("Reason", "plate comes late")]);
        Assert.Contains("5 days after the need date; the buyer is told", ida.Page.Text, StringComparison.Ordinal);
        await ned.GetAsync("/orders");
        Assert.Contains(", is promised 5 days after", ned.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_first_step_of_several_pieces_is_started_and_finished_with_two_buttons()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 3));
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}");
        await ida.SubmitAsync("form[action='/steps/start']");
        Assert.Contains("is started.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Equal($"/orders/{order}", ida.Page.Address.AbsolutePath);
        await ida.SubmitAsync("form[action='/steps/finish']");
        Assert.Equal(3, ida.Page.Document.QuerySelectorAll("form[action='/steps/start'] input[name=stepIds]").Length);

        var piece = (await Scene.PiecesAsync(order))[0];
        await ida.GetAsync($"/pieces/{piece}");
        Assert.Contains("Ready for fit and tack", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("finished cut Ida Holm (Holm Lane Fabrication)", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("form[action='/steps/start']");
        await ida.SubmitAsync("form[action='/steps/finish']");
        Assert.Contains("Held after fit and tack until it is measured", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("form[action='/steps/start']"));
    }

    [Fact]
    public async Task What_the_build_shop_does_for_a_shop_is_marked_on_the_page()
    {
        var order = await Scene.IssuedAsync(Scene.Line());
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{order}");
        await mara.SubmitAsync($"form[action='/orders/{order}/accept']");
        Assert.Contains("by Mara Quill (Saltmarsh Works) on behalf of Holm Lane Fabrication", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("form[action='/steps/start']");
        await mara.GetAsync($"/pieces/{(await Scene.PiecesAsync(order))[0]}");
        Assert.Contains("started cut Mara Quill (Saltmarsh Works) on behalf of Holm Lane Fabrication", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Every recorded change", mara.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_question_stops_the_clock_on_the_page_until_it_is_answered_there()
    {
        var order = await Scene.AcceptedAsync(Scene.Line());
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}/ask");
        await ida.SubmitAsync("form.form", [("about", $"characteristic {Scene.CradleBore}"), ("Body", "")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ida.Page.Status);
        await ida.SubmitAsync("form.form", [("Body", "Is <b>25</b> before coat?")]);
        Assert.Contains("Waiting for the answer of Saltmarsh Works", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Is <b>25</b> before coat?", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("form[action$='/answer']"));

        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{order}");
        await mara.SubmitAsync("form[action$='/answer']", [("answer", "Yes.")]);
        Assert.Contains("runs again", mara.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Waiting for the answer", mara.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_coater_sees_its_steps_and_no_order_and_moves_them_when_their_turn_comes()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("cut", null, null), new("powder coat", Scene.Teal, null), new("receive", Scene.Saltmarsh, null)]));
        var piece = (await Scene.PiecesAsync(order))[0];
        using var wren = await portal.SignInAsync(Wren);
        await wren.GetAsync($"/pieces/{piece}");
        Assert.Contains("Not your turn yet: cut comes first", wren.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("WO-", wren.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Holm Lane", wren.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("PO 4711", wren.Page.Text, StringComparison.Ordinal);

        await Scene.DoAsync(Scene.Ida, order, "cut");
        await wren.GetAsync("/steps");
        Assert.Contains("ready to start", wren.Page.Text, StringComparison.Ordinal);
        await wren.SubmitAsync($"form[action='/steps/start']:has(a[href='/pieces/{piece}'])");
        await wren.SubmitAsync($"form[action='/steps/finish']:has(a[href='/pieces/{piece}'])");
        await wren.GetAsync($"/pieces/{piece}");
        Assert.Contains("your steps are done", wren.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Next is receive, at Saltmarsh Works: send it there.", wren.Page.Text, StringComparison.Ordinal);
        Assert.DoesNotContain("Nothing is left to do", wren.Page.Text, StringComparison.Ordinal);
        Assert.IsType<Portal.Features.Pieces.StartStep.Outcome.Started>(await Scene.StartAsync(Scene.Ned, await Scene.StepsAsync(order, "receive")));
        await wren.GetAsync($"/pieces/{piece}");
        Assert.Contains("Nothing is left to do", wren.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Pieces_are_shipped_in_parts_and_the_slip_is_a_page_to_print()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 2, route: [new("cut", null, null)]));
        await Scene.DoAsync(Scene.Ida, order, "cut");
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}/ship");
        await ida.SubmitAsync("form.form", [("pieceIds", (await Scene.PiecesAsync(order))[0].ToString())]);
        Assert.Contains("Shipped short: 1 still due", ida.Page.Text, StringComparison.Ordinal);
        await ida.GetAsync($"/orders/{order}");
        Assert.Contains("Still due: RH-140-", ida.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Pieces_that_another_shop_has_are_named_with_their_place_and_the_slip_is_addressed_to_who_goes_on()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 2, route: [new("cut", null, null), new("powder coat", Scene.Teal, null), new("receive", Scene.Saltmarsh, null)]));
        await Scene.DoAsync(Scene.Ida, order, "cut");
        await Scene.StartAsync(Scene.Wren, (await Scene.StepsAsync(order, "powder coat"))[0]);
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}/ship");
        Assert.Single(ida.Page.Document.QuerySelectorAll("input[name=pieceIds]"));
        Assert.Contains("powder coat at Teal Coatings: in work", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("form.form");
        Assert.Contains("shipped to Teal Coatings. Nothing is due any more.", ida.Page.Text, StringComparison.Ordinal);
        await ida.GetAsync(ida.Page.Address.AbsolutePath);
        Assert.Contains("Teal Coatings", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Complete: nothing is due any more", ida.Page.Text, StringComparison.Ordinal);
        foreach (var page in new[] { $"/orders/{order}", $"/orders/{order}/ship" })
            Assert.Contains("without a packing slip", (await ida.GetAsync(page)).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Shipping_is_offered_when_something_may_leave_and_an_order_says_when_nothing_is_started()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 2, route: [new("cut", null, null), new("receive", Scene.Saltmarsh, null)]));
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        await new MakePromise.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ida, new(order, line, Scene.Today.AddDays(3), ""), TestContext.Current.CancellationToken);
        using var ida = await portal.SignInAsync(Ida);
        bool Offered() => ida.Page.Document.QuerySelector($"a.button[href='/orders/{order}/ship']") is not null;
        await ida.GetAsync($"/orders/{order}");
        Assert.Contains("Nothing is started yet", ida.Page.Text, StringComparison.Ordinal);
        Assert.Contains("Nothing may leave yet.", ida.Page.Text, StringComparison.Ordinal);
        Assert.False(Offered());

        await Scene.StartAsync(Scene.Ida, (await Scene.StepsAsync(order, "cut"))[0]);
        await Scene.FinishAsync(Scene.Ida, (await Scene.StepsAsync(order, "cut"))[0]);
        await ida.GetAsync($"/orders/{order}");
        Assert.Contains("In work: 0 of 2 through the route", ida.Page.Text, StringComparison.Ordinal);
        Assert.True(Offered());
    }

    [Fact]
    public async Task The_coater_opens_the_slip_addressed_to_it_from_its_list_and_nobody_else_outside_does()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 2, route: [new("cut", null, null), new("powder coat", Scene.Teal, null), new("receive", Scene.Saltmarsh, null)]));
        await Scene.DoAsync(Scene.Ida, order, "cut");
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}/ship");
        await ida.SubmitAsync("form.form");
        var path = ida.Page.Address.AbsolutePath;
        using var wren = await portal.SignInAsync(Wren);
        Assert.Contains("on the way since", (await wren.GetAsync("/steps")).Text, StringComparison.Ordinal);
        await wren.GetAsync($"/pieces/{(await Scene.PiecesAsync(order))[0]}");
        Assert.Contains("On the way to you since", wren.Page.Text, StringComparison.Ordinal);
        Assert.NotNull(wren.Page.Document.QuerySelector($"a[href='{path}']"));
        await wren.GetAsync(path);
        Assert.Equal(HttpStatusCode.OK, wren.Page.Status);
        Assert.Contains("Sent to you: 2 pieces", wren.Page.Text, StringComparison.Ordinal);
        foreach (var hidden in new[] { "PO 4711", "Still due", "/orders/" })
            Assert.DoesNotContain(hidden, wren.Page.Document.DocumentElement.OuterHtml, StringComparison.Ordinal);
        using var tom = await portal.SignInAsync("tom@dunlin.example");
        Assert.Equal(HttpStatusCode.NotFound, (await tom.GetAsync(path)).Status);

        using var ned = await portal.SignInAsync(Ned);
        foreach (var page in new[] { $"/orders/{order}", $"/pieces/{(await Scene.PiecesAsync(order))[0]}", "/board" })
            Assert.Contains("on the way to Teal Coatings since", (await ned.GetAsync(page)).Document.DocumentElement.OuterHtml, StringComparison.OrdinalIgnoreCase);
        var drawing = await Scene.AskAsync<Guid>("select drawing_id from revision where id = @BracketA", new { Scene.BracketA });
        await using var work = await Scene.Database.BeginAsync(Scene.Mara, TestContext.Current.CancellationToken);
        Assert.All(
            (await PiecesInWork.OfDrawingAsync(work, drawing)).Where(row => row.Piece.WorkOrderId == order),
            row => Assert.StartsWith("on the way to Teal Coatings since", row.Where, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_board_says_what_its_filter_leaves_and_offers_all_when_nothing_is_left()
    {
        var order = await Scene.IssuedAsync(Scene.Line(Scene.BracketA, need: Scene.Today.AddDays(300)));
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync($"/board?Until={Scene.Today.AddDays(-300):yyyy-MM-dd}");
        Assert.Equal("Nothing matches the filter", ned.Page.Find("h1").TextContent);
        Assert.NotNull(ned.Page.Document.QuerySelector("#board .empty a[href='/board']"));
        Assert.DoesNotContain("Write a work order", ned.Page.Text, StringComparison.Ordinal);

        await ned.GetAsync($"/board?At={Scene.HolmLane}");
        Assert.Contains("of those shown", ned.Page.Find("h1").TextContent, StringComparison.Ordinal);
        var row = ned.Page.Find($"tr:has(a[href='/pieces/{(await Scene.PiecesAsync(order))[0]}'])");
        Assert.Contains("is not accepted yet", row.TextContent, StringComparison.Ordinal);
        Assert.Null(row.QuerySelector("path.outside"));
        await ned.GetAsync("/board");
        Assert.DoesNotContain("of those shown", ned.Page.Find("h1").TextContent, StringComparison.Ordinal);

        await new DeclineWorkOrder.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ida, new(order, "no plate"), TestContext.Current.CancellationToken);
        await ned.GetAsync("/board");
        row = ned.Page.Find($"tr.stop:has(a[href='/pieces/{(await Scene.PiecesAsync(order))[0]}'])");
        Assert.Contains("is declined", row.TextContent, StringComparison.Ordinal);
        Assert.Contains(" declined", ned.Page.Find("h1").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Of_several_lines_the_late_one_is_named_with_its_own_day()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(need: Scene.Today.AddDays(200)), Scene.Line(Scene.BracketA, need: Scene.Today.AddDays(202)));
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order and ordinal = 2", new { order });
        await new MakePromise.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ida, new(order, line, Scene.Today.AddDays(203), "saw is down"), TestContext.Current.CancellationToken);
        var words = $"RH-140, needed {When.Day(Scene.Today.AddDays(202))}, is promised 1 day after";
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync("/orders");
        Assert.EndsWith($"late: {words}", ned.Page.Find($"tr:has(a[href='/orders/{order}']) td[data-label=Needed]").TextContent.Trim(), StringComparison.Ordinal);
        await ned.GetAsync($"/orders/{order}");
        Assert.Contains($"{words}.", ned.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_piece_that_is_furthest_behind_is_the_one_on_which_least_is_done()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(quantity: 2, route: [new("cut", null, null), new("weld", null, null)]));
        await Scene.StartAsync(Scene.Ida, (await Scene.StepsAsync(order, "cut"))[0]);
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}");
        var second = await Scene.AskAsync<string>("select max(serial) from piece where work_order_id = @order", new { order });
        Assert.Contains($"Furthest behind: {second}", ida.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_scrapped_shortens_the_order_in_words()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(Scene.BracketA, 3, route: [new("cut", null, null)]));
        var piece = (await Scene.PiecesAsync(order))[0];
        var report = await Scene.ReportAsync(piece, "cut", "does not conform");
        const string Scrap = """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by, disposition, disposition_reason, disposed_at, disposed_by)
            select gen_random_uuid(), owner_id, work_order_id, id, @report, 'cut', 'NC-' || right(id::text, 6), now(), @Person, 'scrap', 'cut short', now(), @Mara from piece where id = @piece returning number
            """;
        await Scene.AskAsync<string>(Scrap, new { report, piece, Person = Scene.Ida.PersonId, Mara = Scene.Mara.PersonId });
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync($"/orders/{order}");
        Assert.Contains("0 of 2 through, 1 of 3 scrapped", ned.Page.Text, StringComparison.Ordinal);
        Assert.Contains("1 of 3 was scrapped, and none takes its place.", ned.Page.Text, StringComparison.Ordinal);
        Assert.Contains("2 of 2 pieces are due. 1 of 3 scrapped: the order ends 1 short.", ned.Page.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Who_edits_a_draft_that_is_issued_meanwhile_is_told_by_whom_and_keeps_what_was_typed()
    {
        var draft = await Scene.DraftAsync();
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync($"/orders/{draft}/edit");
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{draft}/edit");
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Mara, new(draft, 1), TestContext.Current.CancellationToken));

        await ned.SubmitAsync("form.order-form", [("PurchaseOrderNumber", "PO 4712"), ("Lines[0].Quantity", "7")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, ned.Page.Status);
        Assert.Contains("Mara Quill issued this draft as WO-", ned.Page.Text, StringComparison.Ordinal);
        Assert.Equal("PO 4712", ned.Page.Find("input[name=PurchaseOrderNumber]").GetAttribute("value"));
        Assert.Equal("7", ned.Page.Find("input[name='Lines[0].Quantity']").GetAttribute("value"));
        Assert.Equal(1, await Scene.AskAsync<int>("select quantity from work_order_line where work_order_id = @draft", new { draft }));
        await mara.SubmitAsync("button[value='add line']", [("PurchaseOrderNumber", "PO 4713")]);
        Assert.Contains("issued this draft", mara.Page.Text, StringComparison.Ordinal);
        Assert.Equal("PO 4713", mara.Page.Find("input[name=PurchaseOrderNumber]").GetAttribute("value"));
    }

    [Fact]
    public async Task What_is_promised_on_behalf_stands_on_the_order()
    {
        var order = await Scene.AcceptedAsync();
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        await new MakePromise.Handler(Scene.Database, Scene.Clock).HandleAsync(Scene.Ned, new(order, line, Scene.Today.AddDays(9), null), TestContext.Current.CancellationToken);
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}");
        Assert.Contains(" by Ned Carr (Saltmarsh Works) on behalf of Holm Lane Fabrication", ida.Page.Find("h3 + .history").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_engineer_releases_a_hold_with_a_reason_on_its_page()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("weld", null, null, "hold", "person"), new("ship", null, null)]));
        await Scene.DoAsync(Scene.Ida, order, "weld");
        var piece = (await Scene.PiecesAsync(order))[0];
        using var mara = await portal.SignInAsync(Mara);
        using var late = await portal.SignInAsync(Mara);
        await late.GetAsync($"/pieces/{piece}/release");
        await mara.GetAsync($"/pieces/{piece}/release");
        await mara.SubmitAsync("form.form", [("Reason", "")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, mara.Page.Status);
        await mara.SubmitAsync("form.form", [("Reason", "every weld looked at")]);
        Assert.Contains("released after weld: every weld looked at Mara Quill (Saltmarsh Works)", mara.Page.Text, StringComparison.Ordinal);

        await late.SubmitAsync("form.form", [("Reason", "undercut ground out")]);
        Assert.Equal(HttpStatusCode.UnprocessableEntity, late.Page.Status);
        Assert.Contains("Mara Quill released ", late.Page.Find(".errors").TextContent, StringComparison.Ordinal);
        Assert.Equal("undercut ground out", late.Page.Find("textarea[name=Reason]").TextContent.Trim());
        Assert.Null(late.Page.Document.QuerySelector("form.form"));
    }

    [Fact]
    public async Task What_is_held_stands_among_what_to_do_for_whoever_measures_or_releases()
    {
        var order = await Scene.AcceptedAsync(
            Scene.Line(quantity: 2, route: [new("fit and tack", null, "tack", "hold", "report")]),
            Scene.Line(Scene.BracketA, route: [new("weld", null, null, "hold", "person")]),
            Scene.Line(Scene.BracketA, route: [new("inspect", null, null, "witness", null, 24)]));
        using var ida = await portal.SignInAsync(Ida);
        await Scene.DoAsync(Scene.Ida, order, "weld");
        await Scene.DoAsync(Scene.Ida, order, "inspect");
        await Scene.StartAsync(Scene.Ida, await Scene.StepsAsync(order, "fit and tack"));
        await ida.GetAsync($"/orders/{order}");
        await ida.SubmitAsync("form[action='/steps/finish']");
        Assert.Contains("Measure them and send the report at stage tack.", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("a[href$='/release']"));
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order and ordinal = 1", new { order });
        var measure = ida.Page.Find($".step-group:has(a[href='/lines/{line}/measure?stage=tack'])");
        Assert.All(await Scene.PiecesAsync(order), piece => Assert.Equal(
            Scene.AskAsync<Guid>("select line_id from piece where id = @piece", new { piece }).Result == line, measure.QuerySelector($"a[href='/pieces/{piece}']") is not null));
        Assert.Contains("inspect: wants a witness", ida.Page.Text, StringComparison.Ordinal);
        await ida.SubmitAsync("form[action='/steps/witness']");
        Assert.Contains("inspect: waiting for witness", (await ida.GetAsync($"/orders/{order}")).Text, StringComparison.Ordinal);

        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{order}");
        Assert.Equal(2, mara.Page.Document.QuerySelectorAll(".step-group a[href$='/release']").Length);
        Assert.Contains("held after weld", mara.Page.Text, StringComparison.Ordinal);
        Assert.Contains("a witness is invited to inspect", mara.Page.Text, StringComparison.Ordinal);
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync($"/orders/{order}");
        Assert.Null(ned.Page.Document.QuerySelector("a[href$='/release']"));
    }

    [Fact]
    public async Task What_the_build_shop_does_for_a_shop_says_so_on_the_page_of_the_piece()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("fit and tack", null, "tack", "hold", "report"), new("weld", null, null)]));
        await Scene.StartAsync(Scene.Ida, await Scene.StepsAsync(order, "fit and tack"));
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync($"/pieces/{(await Scene.PiecesAsync(order))[0]}");
        Assert.Contains("Ask a question on behalf of Holm Lane Fabrication", ned.Page.Text, StringComparison.Ordinal);
        Assert.All(ned.Page.Document.QuerySelectorAll("a[href*='measure']"), link => Assert.Contains("behalf=1", link.GetAttribute("href"), StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(3, false)]
    [InlineData(8, true)]
    public async Task Sampling_is_offered_where_it_spares_a_piece(int quantity, bool offered)
    {
        var draft = await Scene.DraftAsync(Scene.Line(quantity: quantity));
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{draft}");
        Assert.Equal(offered, mara.Page.Document.QuerySelector("a[href$='/sampling']") is not null);
    }

    [Fact]
    public async Task A_photo_is_kept_with_its_order_and_shown_to_who_may_see_the_order_only()
    {
        byte[] png = [0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 0];
        var order = await Scene.AcceptedAsync(Scene.Line());
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/orders/{order}");
        await mara.SubmitAsync("form[action$='/attach']", [("about", "their acceptance by mail"), ("forId", $"{Scene.HolmLane}")], new Upload("file", "acceptance.png", png));
        Assert.Contains("Mara Quill (Saltmarsh Works) on behalf of Holm Lane Fabrication", mara.Page.Text, StringComparison.Ordinal);
        var link = mara.Page.Find("a[href^='/attachments/']").GetAttribute("href")!;
        Assert.Contains("acceptance.png: their acceptance by mail", mara.Page.Text, StringComparison.Ordinal);
        await mara.SubmitAsync("form[action$='/attach']", [], new Upload("file", "photo.png", [0x4D, 0x5A, 0x90, 0x00]));
        Assert.Contains("Nothing was attached", mara.Page.Text, StringComparison.Ordinal);
        Assert.Single(mara.Page.Document.QuerySelectorAll("a[href^='/attachments/']"));

        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}");
        Assert.Null(ida.Page.Document.QuerySelector("form[action$='/attach'] [name='forId']"));
        await ida.SubmitAsync("form[action$='/attach']", [], new Upload("file", "own.png", png));
        Assert.Equal(1, await Scene.AskAsync<long>("select count(*) from attachment where work_order_id = @order and for_id = @HolmLane", new { order, Scene.HolmLane }));
        const string Forge = "insert into attachment select gen_random_uuid(), work_order_id, piece_id, report_id, organisation_id, name, file_type, sha256, size, about, added_at, added_by, organisation_id from attachment where name = 'own.png' and work_order_id = @order";
        Assert.Equal("42501", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => Scene.AsAppAsync(Scene.Ida, Forge, new { order }))).SqlState);
        await ida.GetAsync(link);
        Assert.Equal("image/png", ida.Page.Response.Content.Headers.ContentType?.MediaType);
        using var tom = await portal.SignInAsync(Tom);
        Assert.Equal([HttpStatusCode.NotFound], await GetStatusAsync(tom, link));
        using var wren = await portal.SignInAsync(Wren);
        Assert.Equal([HttpStatusCode.NotFound], await GetStatusAsync(wren, link));

        // Of a piece it is kept for whoever made it, who sees it; the history says so too.
        var piece = (await Scene.PiecesAsync(order))[0];
        await mara.GetAsync($"/pieces/{piece}");
        await mara.SubmitAsync("form[action$='/attach']", [("about", "film"), ("forId", $"{Scene.Teal}")], new Upload("file", "coat.png", png));
        Assert.Equal(2, mara.Page.Text.Split("Mara Quill (Saltmarsh Works) on behalf of Teal Coatings").Length - 1);
        Assert.Equal([HttpStatusCode.OK], await GetStatusAsync(wren, $"/attachments/{await Scene.AskAsync<Guid>("select id from attachment where piece_id = @piece", new { piece })}"));
        Assert.DoesNotContain("Dunlin", mara.Page.Find("form[action$='/attach']").TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Another_shop_finds_nothing_of_it_and_who_is_signed_out_is_asked_to_sign_in()
    {
        var order = await Scene.AcceptedAsync(Scene.Line());
        var piece = (await Scene.PiecesAsync(order))[0];
        var line = await Scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        string[] pages = [$"/orders/{order}", $"/orders/{order}/decline", $"/orders/{order}/ask", $"/orders/{order}/ship", $"/orders/{order}/lines/{line}/promise", $"/pieces/{piece}"];
        using var tom = await portal.SignInAsync(Tom);
        Assert.All(await GetStatusAsync(tom, pages), status => Assert.Equal(HttpStatusCode.NotFound, status));
        await tom.GetAsync("/orders");
        Assert.DoesNotContain(order.ToString(), tom.Page.Html, StringComparison.Ordinal);

        using var stranger = await portal.StrangerAsync();
        foreach (var page in pages)
        {
            await stranger.GetAsync(page);
            Assert.Equal("/sign-in", stranger.Page.Address.AbsolutePath);
        }
    }

    [Fact]
    public async Task A_role_that_may_not_is_refused()
    {
        using var ida = await portal.SignInAsync(Ida);
        using var wren = await portal.SignInAsync(Wren);
        using var ned = await portal.SignInAsync(Ned);
        var order = await Scene.AcceptedAsync(Scene.Line());
        Assert.Equal([HttpStatusCode.Forbidden], await GetStatusAsync(ida, "/orders/new"));
        Assert.Equal([HttpStatusCode.Forbidden, HttpStatusCode.Forbidden], await GetStatusAsync(wren, "/orders", $"/orders/{order}"));
        Assert.Equal([HttpStatusCode.Forbidden], await GetStatusAsync(ned, $"/pieces/{(await Scene.PiecesAsync(order))[0]}/release"));
    }

    [Fact]
    public async Task What_would_be_refused_anyway_shows_no_form_for_it()
    {
        var order = await Scene.AcceptedAsync(Scene.Line(route: [new("fit and tack", null, "tack", "hold", "report")]));
        await Scene.DoAsync(Scene.Ida, order, "fit and tack");
        using var mara = await portal.SignInAsync(Mara);
        await mara.GetAsync($"/pieces/{(await Scene.PiecesAsync(order))[0]}/release");
        Assert.Contains("Held after fit and tack until it is measured", mara.Page.Text, StringComparison.Ordinal);
        Assert.Null(mara.Page.Document.QuerySelector("main textarea"));
        using var ida = await portal.SignInAsync(Ida);
        await ida.GetAsync($"/orders/{order}/decline");
        Assert.Contains("is not declined any more", ida.Page.Text, StringComparison.Ordinal);
        Assert.Null(ida.Page.Document.QuerySelector("main textarea"));
    }

    [Fact]
    public async Task A_list_without_orders_says_how_to_begin()
    {
        using var ned = await portal.SignInAsync(Ned);
        await ned.GetAsync("/orders?show=closed");
        Assert.Contains("Write the first one", ned.Page.Text, StringComparison.Ordinal);
        using var tom = await portal.SignInAsync(Tom);
        await tom.GetAsync("/orders");
        Assert.Contains("appear here when a build shop issues one to you", tom.Page.Text, StringComparison.Ordinal);
    }

    private static string Day(int ahead) => DateOnly.FromDateTime(DateTime.UtcNow).AddDays(ahead).ToString("yyyy-MM-dd");

    private static async Task<HttpStatusCode[]> GetStatusAsync(Person person, params string[] paths)
    {
        var found = new List<HttpStatusCode>();
        foreach (var path in paths)
            found.Add((await person.GetAsync(path)).Status);
        return [.. found];
    }
}
