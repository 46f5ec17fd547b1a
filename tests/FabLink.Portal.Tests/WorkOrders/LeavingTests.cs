using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
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
        Assert.Equal(0, (await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Ida, shipped.Id, Cancellation))!.Lines[0].StillDue);
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
