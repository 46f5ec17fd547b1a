using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>A piece goes past a stage without a hold although nothing shows that it conforms there: whoever takes it is told so, and nobody is asked for it after it was taken.</summary>
public sealed class OpenPointTests(Scene scene) : IClassFixture<Scene>
{
    private const string Open = "not shown to conform at after coat";

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private PlannedStep Receive => new("receive", scene.Saltmarsh, null);

    [Theory]
    [InlineData(null)]
    [InlineData("not proven")]
    public async Task Whoever_receives_a_piece_that_is_not_shown_to_conform_reads_it_before_and_after_and_no_task_outlives_it(string? verdict)
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat"), Receive]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        if (verdict is not null)
            await scene.ReportAsync(piece, "after coat", verdict, ofBore: true);

        Assert.Equal($"Ready for receive, {Open}", (await PageAsync(scene.Ned, piece)).Next.Headline);
        Assert.Contains("No report at stage after coat shows that it conforms.", (await PageAsync(scene.Ned, piece)).Next.ToDo, StringComparison.Ordinal);
        Assert.Equal(Open, Assert.Single(await BoardAsync(order)).Route.NotShownWords);
        var coater = await PageAsync(scene.Wren, piece);
        Assert.EndsWith($"your steps are done, {Open}", coater.Next.Headline, StringComparison.Ordinal);
        Assert.DoesNotContain("Nothing is left", coater.Next.ToDo, StringComparison.Ordinal);
        Assert.Equal("after coat", coater.DueStage);
        Assert.True(await IsToMeasureAsync(scene.Wren, piece));

        await scene.DoAsync(scene.Ned, order, "receive");
        Assert.EndsWith($"is through its route, {Open}", (await PageAsync(scene.Ned, piece)).Next.Headline, StringComparison.Ordinal);
        Assert.Equal(Open, Assert.Single(await BoardAsync(order, done: true)).Route.NotShownWords);
        coater = await PageAsync(scene.Wren, piece);
        Assert.EndsWith("your steps are done", coater.Next.Headline, StringComparison.Ordinal);
        Assert.Equal("Nothing is left to do.", coater.Next.ToDo);
        Assert.Null(coater.DueStage);
        Assert.Empty(coater.Stages);
        Assert.False(await IsToMeasureAsync(scene.Wren, piece));
    }

    [Fact]
    public async Task A_conforming_report_closes_the_point()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat"), Receive]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        await scene.ReportAsync(piece, "after coat", "conforms", ofBore: true);
        Assert.Equal("Ready for receive", (await PageAsync(scene.Ned, piece)).Next.Headline);
        Assert.Null(Assert.Single(await BoardAsync(order)).Route.NotShownWords);
    }

    /// <summary>A stage without a hold has no gate to open; who concedes what is not shown there answers for it all the same.</summary>
    [Fact]
    public async Task What_an_engineer_conceded_where_nothing_holds_is_answered_for()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat"), Receive]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        await scene.ReportAsync(piece, "after coat", "not proven", ofBore: true);
        await scene.DoAsync(scene.Ned, order, "receive");
        var report = await scene.AskAsync<Guid>("select id from report where piece_id = @piece", new { piece });
        Assert.True((await new ShowReport.Handler(scene.Database).HandleAsync(scene.Mara, report, Cancellation))!.MayConcede);
        var concede = new GrantConcession.Handler(scene.Database, scene.Clock);
        Assert.IsType<GrantConcession.Outcome.Granted>(await concede.HandleAsync(scene.Mara, new(report, "Seen by eye.", null), Cancellation));
        Assert.EndsWith("is through its route", (await PageAsync(scene.Ned, piece)).Next.Headline, StringComparison.Ordinal);
        Assert.IsType<GrantConcession.Outcome.Refused>(await concede.HandleAsync(scene.Mara, new(report, "Once more.", null), Cancellation));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from concession_piece where piece_id = @piece", new { piece }));
    }

    /// <summary>It is the build shop's to make good; the coater neither reads of it nor is asked for anything.</summary>
    [Fact]
    public async Task What_failed_at_a_later_step_of_others_holds_no_step_that_the_coater_has_done()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat", "hold", OpensBy: "report"), new("receive", scene.Saltmarsh, "receiving")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        var unproven = await scene.ReportAsync(piece, "after coat", "not proven", ofBore: true);
        Assert.Equal(Move.Measure, (await PageAsync(scene.Wren, piece)).Next.Move);
        Assert.IsType<GrantConcession.Outcome.Granted>(await new GrantConcession.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(unproven, "Seen by eye.", null), Cancellation));
        await scene.StartAsync(scene.Ned, await scene.StepsAsync(order, "receive"));
        var number = await FailedAtReceivingAsync(piece);

        var coater = await PageAsync(scene.Wren, piece);
        Assert.EndsWith("your steps are done", coater.Next.Headline, StringComparison.Ordinal);
        Assert.Null(coater.Piece.Route.OpenNonconformance);
        Assert.StartsWith("done", Assert.Single(RoutePicture.Of(coater.Piece).Steps).Under, StringComparison.Ordinal);
        Assert.Null(coater.DueStage);
        Assert.Equal(number, (await PageAsync(scene.Ned, piece)).Piece.Route.OpenNonconformance);
    }

    [Fact]
    public async Task Nor_does_it_stand_for_the_report_that_the_coaters_own_hold_waits_for()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat", "hold", OpensBy: "report"), new("receive", scene.Saltmarsh, "receiving")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.StartAsync(scene.Wren, await scene.StepsAsync(order, "powder coat"));
        await FailedAtReceivingAsync(piece);
        Assert.Equal(Move.Finish, (await PageAsync(scene.Wren, piece)).Next.Move);
        await scene.FinishAsync(scene.Wren, await scene.StepsAsync(order, "powder coat"));
        Assert.Equal("Held after powder coat until it is measured", (await PageAsync(scene.Wren, piece)).Next.Headline);
        Assert.Null(Assert.Single((await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Wren, Cancellation)).ToMeasure, row => row.PieceId == piece).Wrong);
    }

    [Fact]
    public async Task What_an_engineer_released_is_answered_for()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "tack", "hold", OpensBy: "person"), Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        await new OpenGate.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(await scene.StepsAsync(order, "weld"), "looked at"), Cancellation);
        Assert.Equal("Ready for receive", (await PageAsync(scene.Ned, Assert.Single(await scene.PiecesAsync(order)))).Next.Headline);
        Assert.Null(Assert.Single(await BoardAsync(order)).Route.NotShownWords);
    }

    [Fact]
    public async Task A_shop_that_has_the_last_step_measures_it_still()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "tack")]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var piece = Assert.Single(await scene.PiecesAsync(order));
        Assert.True(await IsToMeasureAsync(scene.Ida, piece));
        var page = await PageAsync(scene.Ida, piece);
        Assert.EndsWith("is through its route, not shown to conform at tack", page.Next.Headline, StringComparison.Ordinal);
        Assert.Equal("tack", page.DueStage);
    }

    private async Task<string> FailedAtReceivingAsync(Guid piece)
    {
        var report = await scene.ReportAsync(piece, "receiving", "does not conform");
        const string Open = """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by)
            select gen_random_uuid(), owner_id, work_order_id, id, @report, 'receiving', 'NC-' || right(id::text, 6), @Now, @Mara from piece where id = @piece returning number
            """;
        return (await scene.AskAsync<string>(Open, new { report, piece, Now = scene.Clock.GetUtcNow(), Mara = scene.Mara.PersonId }))!;
    }

    private async Task<ShowPiece.Page> PageAsync(Actor actor, Guid piece) => (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, piece, Cancellation))!;

    private async Task<bool> IsToMeasureAsync(Actor actor, Guid piece) =>
        (await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(actor, Cancellation)).ToMeasure.Any(row => row.PieceId == piece);

    private async Task<IReadOnlyList<ShowBoard.PieceRow>> BoardAsync(Guid order, bool done = false) =>
        [.. (await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(Done: done), Cancellation)).Pieces.Where(piece => piece.Row.WorkOrderId == order)];
}
