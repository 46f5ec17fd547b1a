using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Questions;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web.Pictures;

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
