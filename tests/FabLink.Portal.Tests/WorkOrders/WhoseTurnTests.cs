using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Questions;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web.Pictures;
using FabLink.Portal.Tests.Reports;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>List, order, piece, board and the tables of the drawing say the same of whose turn it is.</summary>
public sealed class WhoseTurnTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    /// <summary>The pieces of one order: planned, at the coater, waiting for a witness, failed while a step is in work, failed after the coat with rework decided.</summary>
    [Fact]
    public async Task Every_page_takes_the_turn_from_one_place()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 5, route: [new("cut", null, null), new("powder coat", scene.Teal, "after coat", "witness", null, 24), new("receive", scene.Saltmarsh, "receiving")]));
        var pieces = await scene.PiecesAsync(order);
        var (cut, coat) = (await scene.StepsAsync(order, "cut"), await scene.StepsAsync(order, "powder coat"));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, cut[1..]));
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, cut[1], cut[2], cut[4]));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, coat[1], coat[2], coat[4]));
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Wren, coat[2], coat[4]));
        Assert.IsType<AskWitness.Outcome.Asked>(await new AskWitness.Handler(scene.Database, scene.Clock).HandleAsync(scene.Wren, new([coat[2]]), Cancellation));
        await NonconformAsync(pieces[3], "cut");
        await NonconformAsync(pieces[4], "after coat", "rework");
        string[] turns = ["Holm Lane Fabrication", "Teal Coatings", "Saltmarsh Works", "Saltmarsh Works", "Teal Coatings"];

        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.Equal(turns, page.Pieces.Select(piece => piece.Turn));
        var shown = new List<string?>();
        foreach (var piece in pieces)
            shown.Add((await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ned, piece, Cancellation))!.Piece.Turn);
        Assert.Equal(turns, shown);
        var board = await BoardAsync(order);
        Assert.Equal(turns, board.Select(piece => piece.WaitsFor));
        await using (var work = await scene.Database.BeginAsync(scene.Mara, Cancellation))
        {
            var drawing = await scene.AskAsync<Guid>("select drawing_id from revision where id = @CradleA", new { scene.CradleA });
            Assert.Equal(turns, (await PiecesInWork.OfDrawingAsync(work, drawing)).Where(row => row.Piece.WorkOrderId == order).Select(row => row.With));
        }

        // The headline waits for the engineer; one piece is the shop's all the same, and none is the coater's to do for the shop.
        Assert.Equal("Saltmarsh Works, and yours: 1 piece", (await ListAsync(scene.Ida, order)).Turn);
        Assert.Equal("Saltmarsh Works", (await ListAsync(scene.Ned, order)).Turn);

        // What is counted as held is drawn as held.
        var held = board.Where(piece => piece.Route.Steps.Any(step => piece.Route.LineOf(step) == LineType.Held));
        Assert.Equal(board.Where(piece => piece.IsHeld), held);
        Assert.Equal([pieces[2], pieces[4]], held.Select(piece => piece.Row.Id));
        // Nothing is at the coater before it is there.
        Assert.Equal(LineType.Planned, board[0].Route.LineOf(board[0].Route.Steps[1]));
        Assert.Equal(LineType.Outside, board[1].Route.LineOf(board[1].Route.Steps[1]));
    }

    [Fact]
    public async Task An_order_whose_pieces_the_shop_has_no_more_is_the_turn_of_those_who_have_them()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [new("cut", null, null), new("powder coat", scene.Teal, null), new("receive", scene.Saltmarsh, null)]));
        var line = await scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        await new MakePromise.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order, line, scene.Today.AddDays(9), null), Cancellation);
        var first = (await ListAsync(scene.Ned, order));
        Assert.Equal(("Holm Lane Fabrication", false), (first.Turn, first.IsOurs));
        await scene.DoAsync(scene.Ida, order, "cut");
        Assert.Equal(("Teal Coatings", false), ((await ListAsync(scene.Ida, order)).Turn, (await ListAsync(scene.Ida, order)).IsOurs));
        var coat = (await scene.StepsAsync(order, "powder coat"))[0];
        await scene.StartAsync(scene.Wren, coat);
        await scene.FinishAsync(scene.Wren, coat);
        var row = await ListAsync(scene.Ned, order);
        Assert.Equal(("Saltmarsh Works and Teal Coatings", true), (row.Turn, row.IsOurs));
    }

    [Fact]
    public async Task A_piece_whose_next_step_cannot_start_is_drawn_held_there()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "as welded"), new("receive", scene.Saltmarsh, null)]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var number = await NonconformAsync((await scene.PiecesAsync(order))[0], "as welded");
        var piece = Assert.Single(await BoardAsync(order));
        Assert.Equal([LineType.Done, LineType.Held], piece.Route.Steps.Select(piece.Route.LineOf));
        Assert.Contains(RoutePicture.Of(Assert.Single((await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!.Pieces)).Steps, step => step.Under == $"held: {number} is open");
    }

    [Fact]
    public async Task Before_an_order_is_accepted_its_shop_has_it_whoever_does_the_first_step_and_after_a_decline_the_build_shop()
    {
        var order = await scene.IssuedAsync(scene.Line(route: [new("cut", scene.Teal, null), new("weld", null, null)]));
        Assert.Equal("Holm Lane Fabrication", Assert.Single(await BoardAsync(order)).WaitsFor);
        Assert.IsType<OrderAnswer.Given>(await new DeclineWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order, "no 20 mm plate"), Cancellation));
        Assert.Equal("Saltmarsh Works", Assert.Single(await BoardAsync(order)).WaitsFor);
        foreach (var actor in new[] { scene.Ida, scene.Ned })
        {
            var next = (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, (await scene.PiecesAsync(order))[0], Cancellation))!.Next;
            Assert.EndsWith("is declined", next.Headline, StringComparison.Ordinal);
            Assert.Equal("Holm Lane Fabrication says why: no 20 mm plate. Saltmarsh Works closes it and writes a new one; nothing of this one starts.", next.ToDo);
            Assert.Equal(Move.None, next.Move);
        }
    }

    [Fact]
    public async Task A_question_without_an_answer_is_known_wherever_its_pieces_stand()
    {
        var order = await scene.AcceptedAsync(scene.Line());
        var asked = scene.Clock.GetUtcNow();
        Assert.IsType<AskQuestion.Outcome.Asked>(await new AskQuestion.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order, null, null, "Which plate?"), Cancellation));
        Assert.Equal(asked, Assert.Single(await BoardAsync(order)).Row.AskedSince);
        Assert.Equal(asked, (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, (await scene.PiecesAsync(order))[0], Cancellation))!.Piece.AskedSince);
    }

    [Fact]
    public async Task Where_it_is_finds_what_is_at_the_coater_and_what_is_ready_for_it()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 3, route: [new("cut", null, null), new("powder coat", scene.Teal, null)]));
        var cut = await scene.StepsAsync(order, "cut");
        await scene.StartAsync(scene.Ida, cut[..2]);
        await scene.FinishAsync(scene.Ida, cut[..2]);
        await scene.StartAsync(scene.Wren, (await scene.StepsAsync(order, "powder coat"))[0]);
        var page = await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(At: scene.Teal), Cancellation);
        Assert.Contains(page.Doers, doer => doer.Id == scene.Teal);
        Assert.Equal((await scene.PiecesAsync(order)).Take(2), page.Pieces.Where(piece => piece.Row.WorkOrderId == order).Select(piece => piece.Row.Id));
    }

    [Fact]
    public async Task A_cancelled_piece_waits_for_nobody_when_it_is_shown_again()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("fit and tack", null, "tack", "hold", "report"), new("weld", null, null)]));
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, "not needed"), Cancellation));
        var board = await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(Done: true), Cancellation);
        var piece = Assert.Single(board.Pieces, piece => piece.Row.WorkOrderId == order);
        Assert.Equal((false, null, LineType.Done), (piece.IsHeld, piece.WaitsFor, piece.Route.LineOf(piece.Route.Steps[0])));
        Assert.Equal(LineType.NotDone, piece.Route.LineOf(piece.Route.Steps[1]));
        using var html = new StringWriter();
        new BoardTable(board with { Pieces = [piece] }).WriteTo(html, System.Text.Encodings.Web.HtmlEncoder.Default);
        Assert.Contains("<small>not done</small>", html.ToString(), StringComparison.Ordinal);
        Assert.DoesNotContain("aria-label=\"planned\"", html.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task After_rework_every_page_and_every_mail_name_whoever_makes_it_conform()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [new("cut", null, null), new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, "receiving")]));
        await scene.DoAsync(scene.Ida, order, "cut");
        await scene.DoAsync(scene.Wren, order, "powder coat");
        var pieces = await scene.PiecesAsync(order);
        await scene.StartAsync(scene.Ned, (await scene.StepsAsync(order, "receive"))[0]);
        await NonconformAsync(pieces[0], "receiving");
        await ReworkAsync(pieces[0]);

        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.Equal("Saltmarsh Works", page.Pieces[0].Turn);
        Assert.Equal((Turn.BuildShop, "1 piece held until measured", "Saltmarsh Works measures and sends a conforming report."), (page.Standing.Turn, page.Standing.Headline, page.Standing.ToDo));
        Assert.Equal(("Saltmarsh Works", false), ((await ListAsync(scene.Ida, order)).Turn, (await ListAsync(scene.Ida, order)).IsOurs));
        Assert.Empty(StepGroup.ToMeasure(page.Pieces, scene.Ida));
        Assert.Equal("receiving", Assert.Single(StepGroup.ToMeasure(page.Pieces, scene.Ned)).What);
        Assert.StartsWith("Saltmarsh Works makes it conform and measures it again;", await MailAsync(scene.Ida, pieces[0]), StringComparison.Ordinal);
        Assert.StartsWith("Make it conform and measure it again;", await MailAsync(scene.Ned, pieces[0]), StringComparison.Ordinal);
        Assert.Equal((Move.None, null), await MoveAsync(scene.Ida, pieces[0]));
        Assert.Equal((Move.Measure, null), await MoveAsync(scene.Mara, pieces[0]));

        await NonconformAsync(pieces[1], "after coat");
        await ReworkAsync(pieces[1]);
        var row = await ListAsync(scene.Ida, order);
        Assert.Equal(("Saltmarsh Works and Teal Coatings", false, "2 pieces held until measured", "Saltmarsh Works and Teal Coatings measure and send a conforming report."), (row.Turn, row.IsOurs, row.Standing.Headline, row.Standing.ToDo));
        Assert.StartsWith("Teal Coatings makes it conform", await MailAsync(scene.Ida, pieces[1]), StringComparison.Ordinal);
        Assert.StartsWith("Make it conform", await MailAsync(scene.Wren, pieces[1]), StringComparison.Ordinal);
        Assert.Equal((Move.Measure, "Teal Coatings"), await MoveAsync(scene.Mara, pieces[1]));
    }

    [Fact]
    public async Task A_promise_is_asked_for_while_the_shop_has_pieces_and_after_what_stops_them()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "tack", "hold", OpensBy: "report"), new("receive", scene.Saltmarsh, "receiving")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        Assert.Equal("No promise date yet", (await ListAsync(scene.Ida, order)).Standing.Headline);
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.Equal("1 piece held until measured", (await ListAsync(scene.Ida, order)).Standing.Headline);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var good = new SubmitReport.Request("tack", [new(piece, [Flange.Value(scene.CradleBore, 25)])], null, Guid.CreateVersion7());
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, good, Cancellation));
        Assert.Equal("No promise date yet", (await ListAsync(scene.Ida, order)).Standing.Headline);

        await scene.StartAsync(scene.Ned, await scene.StepsAsync(order, "receive"));
        var row = await ListAsync(scene.Ida, order);
        Assert.Equal(("In work: 0 of 1 through the route", 0, "Saltmarsh Works"), (row.Standing.Headline, row.Facts.LinesWithoutPromise, row.Turn));
        await NonconformAsync(piece, "receiving", "rework");
        Assert.Equal("1 piece held until measured", (await ListAsync(scene.Ida, order)).Standing.Headline);
    }

    [Fact]
    public async Task The_pieces_of_a_declined_order_that_is_closed_are_nobodys()
    {
        var order = await scene.IssuedAsync(scene.Line(need: scene.Today.AddDays(-3)));
        Assert.IsType<OrderAnswer.Given>(await new DeclineWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order, "no 20 mm plate"), Cancellation));
        Assert.True(Assert.Single(await BoardAsync(order)).Row.Declined);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order), Cancellation));

        var piece = Assert.Single((await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(Done: true), Cancellation)).Pieces, piece => piece.Row.WorkOrderId == order);
        Assert.Equal((null, false, false, false), (piece.WaitsFor, piece.Row.Declined, piece.Late, piece.IsHeld));
        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, order, Cancellation))!;
        Assert.Null(Assert.Single(page.Pieces).Turn);
        Assert.EndsWith("is on a closed order", (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, page.Pieces[0].Id, Cancellation))!.Next.Headline, StringComparison.Ordinal);
    }

    private async Task ReworkAsync(Guid piece)
    {
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var nonconformance = await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @piece", new { piece });
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(
            await new DisposeNonconformance.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(nonconformance, 1, "rework", "dress it", null), Cancellation));
    }

    /// <summary>What the newest mail of a decision on the piece says is to be done.</summary>
    private async Task<string> MailAsync(Actor to, Guid piece) => (await scene.AskAsync<string>(
        "select body from notice where piece_id = @piece and person_id = @PersonId and kind = 'nonconformance decided' order by created_at desc limit 1", new { piece, to.PersonId }))?.Split('\n')[^1] ?? "";

    private async Task<(Move Move, string? OnBehalfOf)> MoveAsync(Actor actor, Guid piece)
    {
        var next = (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, piece, Cancellation))!.Next;
        return (next.Move, next.OnBehalfOf);
    }

    private async Task<IReadOnlyList<ShowBoard.PieceRow>> BoardAsync(Guid order) =>
        [.. (await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation)).Pieces.Where(piece => piece.Row.WorkOrderId == order)];

    private async Task<ListWorkOrders.Row> ListAsync(Actor actor, Guid order) =>
        Assert.Single((await new ListWorkOrders.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(null), Cancellation)).Rows, row => row.Facts.Id == order);

    private async Task<string> NonconformAsync(Guid piece, string stage, string? disposition = null)
    {
        var report = await scene.ReportAsync(piece, stage, "does not conform");
        const string Sql = """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by, disposition, disposition_reason, disposed_at, disposed_by)
            select gen_random_uuid(), owner_id, work_order_id, id, @report, @stage, 'NC-' || right(id::text, 6), @Now, @Person, @disposition,
                   case when @disposition is not null then 'strip it' end, case when @disposition is not null then @Now end, case when @disposition is not null then @Mara end
            from piece where id = @piece returning number
            """;
        return (await scene.AskAsync<string>(Sql, new { report, stage, piece, disposition, Now = scene.Clock.GetUtcNow(), Person = scene.Ida.PersonId, Mara = scene.Mara.PersonId }))!;
    }
}
