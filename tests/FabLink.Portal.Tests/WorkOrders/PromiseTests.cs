using FabLink.Portal.Features.Questions;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using Npgsql;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>What a shop says about an order: promises, declines, questions.</summary>
public sealed class PromiseTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_promise_after_the_need_date_is_told_to_the_buyer_with_its_reason_and_one_in_time_is_not()
    {
        var need = scene.Today.AddDays(9);
        var order = await scene.AcceptedAsync(scene.Line(need: need));
        var line = await LineAsync(order);
        Assert.Equal(0, Assert.IsType<MakePromise.Outcome.Promised>(await PromiseAsync(scene.Ida, order, line, need)).DaysLate);
        Assert.Equal(0, await LateNoticesAsync(order));

        Assert.IsType<MakePromise.Outcome.ReasonWanted>(await PromiseAsync(scene.Ida, order, line, need.AddDays(2)));
        Assert.Equal(2, Assert.IsType<MakePromise.Outcome.Promised>(await PromiseAsync(scene.Ida, order, line, need.AddDays(2), "saw is down")).DaysLate);
        Assert.Equal(1, await LateNoticesAsync(order));
        Assert.Contains("saw is down", await scene.AskAsync<string>("select body from notice where work_order_id = @order and kind = 'promised late'", new { order }), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_late_promise_that_moves_back_in_time_is_told_to_the_buyer_too()
    {
        var need = scene.Today.AddDays(9);
        var order = await scene.AcceptedAsync(scene.Line(need: need));
        var line = await LineAsync(order);
        await PromiseAsync(scene.Ida, order, line, need.AddDays(2), "saw is down");
        scene.Clock.Advance(TimeSpan.FromSeconds(1));
        await PromiseAsync(scene.Ida, order, line, need.AddDays(1), "the saw runs again");
        Assert.Equal(0, await NoticesAsync(order, scene.Ned, "promised in time again"));
        scene.Clock.Advance(TimeSpan.FromSeconds(1));
        await PromiseAsync(scene.Ida, order, line, need);
        Assert.Equal((1, 2), (await NoticesAsync(order, scene.Ned, "promised in time again"), await LateNoticesAsync(order)));
        scene.Clock.Advance(TimeSpan.FromSeconds(1));
        await PromiseAsync(scene.Ida, order, line, need.AddDays(-1));
        Assert.Equal(1, await NoticesAsync(order, scene.Ned, "promised in time again"));
        Assert.Equal(0, await NoticesAsync(order, scene.Ida, "said on your behalf"));
    }

    [Fact]
    public async Task The_shop_is_told_what_the_build_shop_says_in_its_name()
    {
        var order = await scene.IssuedAsync();
        await new AcceptWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order), Cancellation);
        Assert.Equal(1, await NoticesAsync(order, scene.Ida, "said on your behalf"));
        await PromiseAsync(scene.Ned, order, null, scene.Today.AddDays(9));
        Assert.Equal(2, await NoticesAsync(order, scene.Ida, "said on your behalf"));
        var declined = await scene.IssuedAsync();
        await new DeclineWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(declined, "no plate"), Cancellation);
        Assert.Equal(1, await NoticesAsync(declined, scene.Ida, "said on your behalf"));
    }

    // The last day that a date can hold stands for infinity in PostgreSQL (its documentation, 8.5.1.4), and no difference with it can be formed.
    [Fact]
    public async Task A_day_that_nobody_can_mean_is_refused_by_the_page_and_by_the_database()
    {
        var order = await scene.AcceptedAsync(scene.Line());
        var line = await LineAsync(order);
        Assert.Empty(new MakePromise.Validator().Validate(new MakePromise.Request(order, line, new DateOnly(2031, 1, 1), null)).Errors);
        foreach (var day in new[] { DateOnly.MaxValue, DateOnly.MinValue, new DateOnly(2100, 1, 1), new DateOnly(1999, 12, 31) })
            Assert.Contains("between 2000 and 2099", Assert.Single(new MakePromise.Validator().Validate(new MakePromise.Request(order, line, day, null)).Errors).ErrorMessage, StringComparison.Ordinal);
        Assert.Contains(new PlannedLine.Validator().Validate(scene.Line() with { NeedDate = DateOnly.MaxValue }).Errors, error => error.PropertyName == "NeedDate");

        Assert.Equal("promise_within_reason", (await Assert.ThrowsAsync<PostgresException>(() => PromiseAsync(scene.Ida, order, line, DateOnly.MaxValue, "never"))).ConstraintName);
        Assert.NotNull(await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation));
    }

    [Fact]
    public async Task Every_promise_is_kept_and_none_is_ever_rewritten()
    {
        var order = await scene.AcceptedAsync();
        var line = await LineAsync(order);
        await PromiseAsync(scene.Ida, order, line, scene.Today.AddDays(5));
        Assert.IsType<MakePromise.Outcome.Unchanged>(await PromiseAsync(scene.Ida, order, line, scene.Today.AddDays(5)));
        scene.Clock.Advance(TimeSpan.FromSeconds(1));
        await PromiseAsync(scene.Ida, order, line, scene.Today.AddDays(4));
        Assert.Equal(2, await scene.AskAsync<long>("select count(*) from promise where line_id = @line", new { line }));
        await using var owner = await scene.OwnerAsync();
        var refused = await Assert.ThrowsAsync<PostgresException>(() => Dapper.SqlMapper.ExecuteAsync(owner, "update promise set promised_date = promised_date + 1"));
        Assert.Equal("FL007", refused.SqlState);
    }

    [Fact]
    public async Task A_day_that_is_over_is_not_promised() =>
        Assert.IsType<MakePromise.Outcome.InThePast>(await PromiseAsync(scene.Ida, await scene.AcceptedAsync(), null, scene.Today.AddDays(-1)));

    [Fact]
    public async Task A_promise_on_behalf_of_the_shop_is_marked_so_and_no_rival_makes_one()
    {
        var order = await scene.AcceptedAsync();
        Assert.Equal("Holm Lane Fabrication", Assert.IsType<MakePromise.Outcome.Promised>(await PromiseAsync(scene.Ned, order, null, scene.Today.AddDays(5))).OnBehalfOf);
        Assert.True(await scene.AskAsync<bool>("select on_behalf from promise where work_order_id = @order", new { order }));
        Assert.IsType<MakePromise.Outcome.NotFound>(await PromiseAsync(scene.Tom, order, null, scene.Today.AddDays(5)));
    }

    [Fact]
    public async Task A_line_of_another_order_takes_no_promise()
    {
        var mine = await scene.AcceptedAsync();
        var other = await scene.AcceptedAsync();
        Assert.IsType<MakePromise.Outcome.NotFound>(await PromiseAsync(scene.Ida, mine, await LineAsync(other), scene.Today.AddDays(5)));
    }

    [Fact]
    public async Task Who_declines_says_why_and_the_order_cannot_be_accepted_afterwards()
    {
        var order = await scene.IssuedAsync();
        Assert.False(new DeclineWorkOrder.Validator().Validate(new DeclineWorkOrder.Request(order, " ")).IsValid);
        var decline = new DeclineWorkOrder.Handler(scene.Database, scene.Clock);
        async Task<string?> WaitsForAsync() => Assert.Single(
            (await new Portal.Features.Board.ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation)).Pieces, piece => piece.Row.WorkOrderId == order).WaitsFor;
        Assert.Equal("Holm Lane Fabrication", await WaitsForAsync());
        Assert.IsType<OrderAnswer.Given>(await decline.HandleAsync(scene.Ida, new(order, "no 20 mm plate"), Cancellation));
        Assert.IsType<OrderAnswer.AlreadyDeclined>(await decline.HandleAsync(scene.Ida, new(order, "no 20 mm plate"), Cancellation));
        Assert.Equal("Saltmarsh Works", await WaitsForAsync());
        Assert.IsType<OrderAnswer.AlreadyDeclined>(await new AcceptWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order), Cancellation));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @Person and body like '%no 20 mm plate.' || chr(10) || 'Close WO-____ and write a new one.'", new { order, Person = scene.Ned.PersonId }));
        var close = new CloseWorkOrder.Handler(scene.Database, scene.Clock);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(scene.Ned, new(order), Cancellation));
        Assert.IsType<CloseWorkOrder.Outcome.AlreadyClosed>(await close.HandleAsync(scene.Ned, new(order), Cancellation));
        Assert.Equal("Ned Carr (Saltmarsh Works) closed it after it was declined. Nothing is left to do but this: return or destroy its drawings.", await ClosedBodyAsync(order));
    }

    [Fact]
    public async Task The_shop_of_an_order_that_is_closed_as_done_is_told_once_what_becomes_of_the_drawings_and_of_a_draft_it_hears_nothing()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("cut", null, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var close = new CloseWorkOrder.Handler(scene.Database, scene.Clock);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(scene.Ned, new(order), Cancellation));
        Assert.Equal("Ned Carr (Saltmarsh Works) closed it. Nothing is left to do but this: return or destroy its drawings.", await ClosedBodyAsync(order));

        var draft = await scene.DraftAsync();
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(scene.Ned, new(draft), Cancellation));
        Assert.Null(await ClosedBodyAsync(draft));
    }

    /// <summary>What the shop is told when its order is closed; fails when it is told twice.</summary>
    private Task<string?> ClosedBodyAsync(Guid order) => scene.AskAsync<string>(
        "select (select body from notice where work_order_id = @order and person_id = @PersonId and kind = 'work order closed')", new { order, scene.Ida.PersonId });

    [Fact]
    public async Task An_order_waits_for_the_answer_from_the_moment_of_the_question_until_it_is_there()
    {
        var order = await scene.AcceptedAsync();
        var asked = scene.Clock.GetUtcNow();
        var question = Assert.IsType<AskQuestion.Outcome.Asked>(await AskAsync(scene.Ida, order, null, scene.CradleBore, "Bore before or after coat?")).Id;
        var page = await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation);
        var number = page!.Order.Number;
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @PersonId and subject = @subject and body like @body", new
        {
            order,
            scene.Ned.PersonId,
            subject = $"Holm Lane Fabrication asks about RH-110 A, balloon 1 on {number}",
            body = $"%{number} waits for your answer since%",
        }));
        Assert.Equal((Turn.BuildShop, (DateTimeOffset?)asked), (page!.Standing.Turn, page.Standing.Since));
        Assert.Contains("balloon 1", Assert.Single(page.Questions).About, StringComparison.Ordinal);

        var answer = new AnswerQuestion.Handler(scene.Database, scene.Clock);
        Assert.IsType<AnswerQuestion.Outcome.NotAllowed>(await answer.HandleAsync(scene.Ida, new(question, "Before."), Cancellation));
        var both = await Task.WhenAll(answer.HandleAsync(scene.Mara, new(question, "Before."), Cancellation), answer.HandleAsync(scene.Ned, new(question, "After."), Cancellation));
        Assert.Single(both.OfType<AnswerQuestion.Outcome.Answered>());
        Assert.NotNull(Assert.Single(both.OfType<AnswerQuestion.Outcome.AlreadyAnswered>()).By);
        page = await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation);
        Assert.Null(page!.Facts.WaitingSince);
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @Person and kind = 'question answered'", new { order, Person = scene.Ida.PersonId }));
    }

    [Fact]
    public async Task A_question_is_about_something_on_the_order()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.CradleA));
        Assert.IsType<AskQuestion.Outcome.NotOnTheOrder>(await AskAsync(scene.Ida, order, scene.BracketA, null, "Which hand?"));
        Assert.IsType<AskQuestion.Outcome.NotOnTheOrder>(await AskAsync(scene.Ida, order, null, Guid.NewGuid(), "Which hand?"));
        Assert.IsType<AskQuestion.Outcome.NotFound>(await AskAsync(scene.Tom, order, null, null, "Which hand?"));
        Assert.IsType<AskQuestion.Outcome.NotFound>(await AskAsync(scene.Wren, order, null, null, "Which hand?"));
    }

    [Fact]
    public async Task A_draft_saved_by_somebody_else_meanwhile_is_not_overwritten_silently()
    {
        var draft = await scene.DraftAsync();
        var edit = new EditWorkOrder.Handler(scene.Database, scene.Clock);
        EditWorkOrder.Request With(int version, string note) => new(draft, version, scene.Dunlin, "PO 5", note, [scene.Line(quantity: 2)]);
        Assert.IsType<EditWorkOrder.Outcome.Saved>(await edit.HandleAsync(scene.Mara, With(1, "mine"), Cancellation));
        var stale = Assert.IsType<EditWorkOrder.Outcome.Stale>(await edit.HandleAsync(scene.Ned, With(1, "his"), Cancellation));
        Assert.Equal(("Mara Quill", 2), (stale.By, stale.RowVersion));
        Assert.Equal("mine", await scene.AskAsync<string>("select note from work_order where id = @draft", new { draft }));
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(draft, 2), Cancellation));
        Assert.IsType<EditWorkOrder.Outcome.AlreadyIssued>(await edit.HandleAsync(scene.Ned, With(3, "late"), Cancellation));
    }

    private Task<Guid> LineAsync(Guid order) => scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order order by ordinal limit 1", new { order })!;

    private async Task<MakePromise.Outcome> PromiseAsync(Actor actor, Guid order, Guid? line, DateOnly date, string? reason = null) =>
        await new MakePromise.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(order, line ?? await LineAsync(order), date, reason), Cancellation);

    private Task<AskQuestion.Outcome> AskAsync(Actor actor, Guid order, Guid? revision, Guid? characteristic, string body) =>
        new AskQuestion.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(order, revision, characteristic, body), Cancellation);

    private Task<long> NoticesAsync(Guid order, Actor of, string kind) =>
        scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @PersonId and kind = @kind", new { order, of.PersonId, kind });

    private Task<long> LateNoticesAsync(Guid order) => scene.AskAsync<long>(
        "select count(*) from notice n join outbox o on o.subject_id = n.id where n.work_order_id = @order and n.kind = 'promised late' and n.person_id = @Person",
        new { order, Person = scene.Ned.PersonId })!;
}
