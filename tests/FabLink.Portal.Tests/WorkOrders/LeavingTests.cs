using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Npgsql;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>Where a piece is between two shops: due, on its way, there, or gone without a word.</summary>
public sealed class LeavingTests(Scene scene) : IClassFixture<Scene>
{
    private static readonly PlannedStep _weld = new("weld", null, null);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private PlannedStep Blast => new("blast", scene.Teal, null);

    private PlannedStep Coat => new("powder coat", scene.Teal, null);

    private PlannedStep Receive => new("receive", scene.Saltmarsh, null);

    [Theory]
    [InlineData("blast")]
    [InlineData("powder coat")]
    [InlineData("receive")]
    public async Task What_went_without_a_slip_is_not_the_shops_to_ship_any_more_and_not_due(string upTo)
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [_weld, Blast, Coat, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var pieces = await scene.PiecesAsync(order);
        foreach (var kind in new[] { "blast", "powder coat", "receive" })
        {
            var step = (await scene.StepsAsync(order, kind))[0];
            var actor = kind == "receive" ? scene.Ned : scene.Wren;
            Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(actor, step));
            Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(actor, step));
            if (kind == upTo)
                break;
        }

        var page = await PageAsync(order);
        Assert.Equal([pieces[1]], page.Due.Select(piece => piece.Id));
        Assert.Equal([pieces[0]], page.WithoutSlip.Select(piece => piece.Id));
        Assert.IsType<ShipPieces.Outcome.Elsewhere>(await ShipAsync(order, pieces));
        Assert.Equal("FL016", (await Assert.ThrowsAsync<PostgresException>(() => ForgeAsync(order, pieces[0]))).SqlState);

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var shipped = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, [pieces[1]]));
        Assert.Equal(0, shipped.StillDue);
        var line = (await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Ida, shipped.Id, Cancellation))!.Lines[0];
        Assert.Equal((1, 1, 0), (line.ShippedOnThis, line.GoneBefore, line.StillDue));
    }

    [Fact]
    public async Task What_comes_back_to_the_shop_is_its_to_ship_and_an_inspection_at_its_place_takes_nothing_away()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weld, Blast, new("machine", null, null), new("inspect", scene.Saltmarsh, null), Coat, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        await scene.DoAsync(scene.Wren, order, "blast");
        Assert.Equal(1, (await PageAsync(order)).StillDue);
        await scene.DoAsync(scene.Ida, order, "machine");
        await scene.DoAsync(scene.Mara, order, "inspect");
        Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, await scene.PiecesAsync(order)));
    }

    [Fact]
    public async Task The_addressee_sees_the_slip_with_its_own_pieces_and_nothing_else_of_the_order()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [_weld, Blast, Receive]), scene.Line(scene.BracketA, 1, route: [_weld, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var cradles = (await PageAsync(order)).Pieces.Where(piece => piece.PartNumber == "RH-110").ToList();
        var shipped = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, [cradles[0].Id]));
        var home = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, [.. (await PageAsync(order)).Due.Where(piece => piece.PartNumber == "RH-140").Select(piece => piece.Id)]));
        var show = new ShowSlip.Handler(scene.Database);

        var page = (await show.HandleAsync(scene.Wren, shipped.Id, Cancellation))!;
        Assert.Null(page.Order);
        Assert.Empty(page.Lines);
        Assert.Equal(("Holm Lane Fabrication", "Teal Coatings", "Ida Holm", "two crates"), (page.Slip.From, page.Slip.To, page.Slip.By, page.Slip.Note));
        Assert.Equal([cradles[0].Serial], Assert.Single(page.Packed).Serials);
        Assert.Null(await show.HandleAsync(scene.Wren, home.Id, Cancellation));
        Assert.Null(await show.HandleAsync(scene.Tom, shipped.Id, Cancellation));
        Assert.NotNull((await show.HandleAsync(scene.Ned, shipped.Id, Cancellation))!.Order);

        var piece = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Wren, cradles[0].Id, Cancellation))!;
        Assert.Contains(piece.History, each => each.What == $"shipped with {shipped.Number} to Teal Coatings");
        Assert.Equal(1, await scene.AskAsync<long>(
            "select count(*) from notice where work_order_id = @order and person_id = @PersonId and kind = 'shipped' and path = @path", new { order, scene.Wren.PersonId, path = $"/slips/{shipped.Id}" }));

        await using var work = await scene.Database.BeginAsync(scene.Wren, Cancellation);
        Assert.Equal(1, await work.ValueAsync<long>("select count(*) from packing_slip where work_order_id = @order", new { order }));
        Assert.Equal(1, await work.ValueAsync<long>("select count(*) from packing_slip_piece where work_order_id = @order", new { order }));
        Assert.Equal(0, await work.ValueAsync<long>("select count(*) from sender_of(@Id)", new { home.Id }));
    }

    [Fact]
    public async Task A_slip_is_addressed_to_nobody_who_has_no_step_of_the_order()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weld, Blast, Receive]));
        const string Forge = "insert into packing_slip (id, work_order_id, number, shipped_at, shipped_by, to_id) values (gen_random_uuid(), @order, 'PS-Y', now(), @PersonId, @to)";
        Assert.Equal("42501", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { order, scene.Ida.PersonId, to = scene.Dunlin }))).SqlState);
        Assert.Equal(1, await scene.AsAppAsync(scene.Ida, Forge, new { order, scene.Ida.PersonId, to = scene.Teal }));
    }

    [Fact]
    public async Task A_shipped_piece_is_on_the_way_for_everybody_until_its_addressee_starts()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [_weld, Blast, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var pieces = await scene.PiecesAsync(order);
        var shipped = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, [pieces[0]]));
        var day = LocalTime.Day(scene.Clock.GetUtcNow());
        Assert.Equal($"On the way to Teal Coatings since {day}, {shipped.Number}", (await HeadlineAsync(scene.Ned, pieces[0])).Headline);
        Assert.Equal($"On the way to you since {day}, {shipped.Number}", (await HeadlineAsync(scene.Wren, pieces[0])).Headline);
        Assert.Equal([shipped.Number, null], (await PageAsync(order)).Pieces.Select(piece => piece.OnTheWay?.Number));
        Assert.Equal([shipped.Number, null], (await BoardAsync(order)).Select(piece => piece.OnTheWay?.Number));
        Assert.Equal([$"on the way since {day}, {shipped.Number}", "no packing slip says that it was sent"], await RemarksAsync(pieces));

        var unsaid = await HeadlineAsync(scene.Wren, pieces[1]);
        Assert.Equal(("Ready for blast", Move.Start), (unsaid.Headline, unsaid.Move));
        Assert.Contains("No packing slip says that", unsaid.ToDo, StringComparison.Ordinal);

        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, (await scene.StepsAsync(order, "blast"))[0]));
        Assert.All((await PageAsync(order)).Pieces, piece => Assert.Null(piece.OnTheWay));
        Assert.All(await BoardAsync(order), piece => Assert.Null(piece.OnTheWay));
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Wren, (await scene.StepsAsync(order, "blast"))[0]));
        var receive = await HeadlineAsync(scene.Ned, pieces[0]);
        Assert.Equal(("Ready for receive", "Receive is yours to start."), (receive.Headline, receive.ToDo));
    }

    [Fact]
    public async Task What_goes_straight_to_the_build_shop_is_on_the_way_there_until_it_is_received()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weld, new("ship", null, null), Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var pieces = await scene.PiecesAsync(order);
        Assert.Equal(0, await ReadyAsync(order, scene.Ned));
        await ShipAsync(order, pieces);
        Assert.StartsWith("On the way to you since", (await HeadlineAsync(scene.Ned, pieces[0])).Headline, StringComparison.Ordinal);
        Assert.StartsWith("On the way to Saltmarsh Works since", (await HeadlineAsync(scene.Ida, pieces[0])).Headline, StringComparison.Ordinal);
        Assert.Equal(1, await ReadyAsync(order, scene.Ned));
        await scene.DoAsync(scene.Ned, order, "receive");
        Assert.Null((await PageAsync(order)).Pieces[0].OnTheWay);
    }

    [Fact]
    public async Task What_was_sent_before_its_order_was_cancelled_still_arrives_and_its_page_says_so()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [_weld, Blast, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var pieces = await scene.PiecesAsync(order);
        var shipped = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(order, pieces));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, (await scene.StepsAsync(order, "blast"))[1]));
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, "not needed"), Cancellation));
        var day = LocalTime.Day(scene.Clock.GetUtcNow());
        foreach (var (actor, to) in new[] { (scene.Ned, "to Teal Coatings"), (scene.Ida, "to Teal Coatings"), (scene.Wren, "to you") })
        {
            var sent = await HeadlineAsync(actor, pieces[0]);
            Assert.EndsWith("is cancelled", sent.Headline, StringComparison.Ordinal);
            Assert.EndsWith($" It went with {shipped.Number} {to} on {day} and still arrives.", sent.ToDo, StringComparison.Ordinal);
            Assert.DoesNotContain("still arrives", (await HeadlineAsync(actor, pieces[1])).ToDo, StringComparison.Ordinal);
        }
    }

    private async Task<NextMove> HeadlineAsync(Actor actor, Guid piece) => (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, piece, Cancellation))!.Next;

    private async Task<IReadOnlyList<ShowBoard.PieceRow>> BoardAsync(Guid order) =>
        [.. (await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation)).Pieces.Where(piece => piece.Row.WorkOrderId == order)];

    private async Task<IReadOnlyList<string?>> RemarksAsync(IReadOnlyList<Guid> pieces)
    {
        var items = (await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Wren, Cancellation)).Now.SelectMany(group => group.Items).ToDictionary(item => item.PieceId);
        return [.. pieces.Select(piece => items[piece].Remark)];
    }

    private Task<long> ReadyAsync(Guid order, Actor actor) =>
        scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @PersonId and kind = 'your turn'", new { order, actor.PersonId });

    private async Task<ShowWorkOrder.Page> PageAsync(Guid order) =>
        (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;

    private Task<ShipPieces.Outcome> ShipAsync(Guid order, IReadOnlyList<Guid> pieces, Actor? by = null) =>
        new ShipPieces.Handler(scene.Database, scene.Clock).HandleAsync(by ?? scene.Ida, new(order, pieces, "two crates"), Cancellation);

    private Task<int> ForgeAsync(Guid order, Guid piece) => scene.AsAppAsync(
        scene.Ida,
        """
        with slip as (insert into packing_slip (id, work_order_id, number, shipped_at, shipped_by) values (gen_random_uuid(), @order, 'PS-X' || @piece::text, now(), @PersonId) returning id)
        insert into packing_slip_piece select id, @piece, @order from slip
        """,
        new { order, piece, scene.Ida.PersonId });
}
