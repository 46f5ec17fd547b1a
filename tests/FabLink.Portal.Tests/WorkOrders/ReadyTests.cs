using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>Whoever has the next step is told when it may start, whatever opened it, and once.</summary>
public sealed class ReadyTests(Scene scene) : IClassFixture<Scene>
{
    private static readonly PlannedStep _weldHeld = new("weld", null, null, "hold", OpensBy: "person");

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private PlannedStep Blast => new("blast", scene.Teal, null);

    private PlannedStep Receive => new("receive", scene.Saltmarsh, null);

    [Fact]
    public async Task A_release_tells_the_coater_once_for_all_pieces_and_not_before()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [_weldHeld, Blast, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.Empty(await ReadyAsync(order, scene.Wren));

        var weld = await scene.StepsAsync(order, "weld");
        Assert.IsType<OpenGate.Outcome.Opened>(await new OpenGate.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(weld, "the secret of the weld"), Cancellation));
        Assert.EndsWith("ready for blast", Assert.Single(await ReadyAsync(order, scene.Wren)), StringComparison.Ordinal);
        Assert.Empty(await ReadyAsync(order, scene.Ned));
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and organisation_id = @Teal and body like '%secret%'", new { order, scene.Teal }));

        await scene.DoAsync(scene.Wren, order, "blast");
        Assert.Single(await ReadyAsync(order, scene.Ned));
    }

    [Fact]
    public async Task Whoever_is_next_reads_where_the_pieces_are_unless_a_slip_says_it()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 2, route: [new("weld", null, null), Blast, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.EndsWith("Next is blast, and that is yours. They are at Holm Lane Fabrication.", await BodyAsync(order, scene.Wren), StringComparison.Ordinal);
        await scene.DoAsync(scene.Wren, order, "blast");
        Assert.EndsWith("Next is receive, and that is yours. They are at Teal Coatings.", await BodyAsync(order, scene.Ned), StringComparison.Ordinal);

        var sent = await scene.AcceptedAsync(scene.Line(route: [new("ship", null, null), Receive]));
        Assert.IsType<ShipPieces.Outcome.Shipped>(await new ShipPieces.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(sent, [.. await scene.PiecesAsync(sent)], null), Cancellation));
        Assert.EndsWith("Next is receive, and that is yours.", await BodyAsync(sent, scene.Ned), StringComparison.Ordinal);
    }

    /// <summary>An inspector may have come to the piece or have it: nobody is told a place that may be wrong.</summary>
    [Fact]
    public async Task After_an_inspection_by_another_no_place_is_said()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, null), new("inspect", scene.Saltmarsh, null), Blast]));
        await scene.DoAsync(scene.Ida, order, "weld");
        await scene.DoAsync(scene.Mara, order, "inspect");
        Assert.EndsWith("Next is blast, and that is yours.", await BodyAsync(order, scene.Wren), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("ship", "ship it", "Next is ship, and that is yours. The packing slip is written on the order.", true)]
    [InlineData("blast", "send it to Teal Coatings", "Next is blast, at Teal Coatings: send it there. The packing slip is written on the order.", true)]
    [InlineData("machine", "go on with machine", "Next is machine, and that is yours.", false)]
    public async Task Who_is_told_of_a_release_reads_what_comes_next(string next, string deed, string toDo, bool ships)
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldHeld, next == "blast" ? Blast : new(next, null, null), Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.IsType<OpenGate.Outcome.Opened>(await new OpenGate.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(await scene.StepsAsync(order, "weld"), "sound"), Cancellation));
        const string Told = "select subject || '|' || body || '|' || path from notice where work_order_id = @order and person_id = @PersonId and kind = 'released'";
        var told = (await scene.AskAsync<string>(Told, new { order, scene.Ida.PersonId }))!.Split('|');
        Assert.EndsWith($"released after weld, {deed}", told[0], StringComparison.Ordinal);
        Assert.EndsWith($"sound\n{toDo}", told[1], StringComparison.Ordinal);
        Assert.Equal(ships ? $"/orders/{order}/ship" : $"/pieces/{Assert.Single(await scene.PiecesAsync(order))}", told[2]);
    }

    /// <summary>Nobody learns what comes next but who has the step and the build shop.</summary>
    [Fact]
    public async Task What_comes_after_a_step_is_said_to_who_has_it()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [Blast, Receive]));
        await scene.DoAsync(scene.Wren, order, "blast");
        var step = Assert.Single(await scene.StepsAsync(order, "blast"));
        foreach (var (actor, kind) in new[] { (scene.Wren, "receive"), (scene.Ned, "receive"), (scene.Ida, null), (scene.Tom, null) })
        {
            await using var work = await scene.Database.BeginAsync(actor, Cancellation);
            Assert.Equal(kind, (await NextStep.AfterAsync(work, step))?.Kind);
        }
    }

    private async Task<string> BodyAsync(Guid order, Actor actor) => (await scene.AskAsync<string>(
        "select body from notice where work_order_id = @order and person_id = @PersonId and kind = 'your turn' and subject like '%ready for%'", new { order, actor.PersonId }))!;

    [Fact]
    public async Task A_report_after_the_step_has_ended_tells_whoever_receives_and_says_it_once_however_often_the_hold_opens()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat", "hold", OpensBy: "report"), Receive]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        Assert.Empty(await ReadyAsync(order, scene.Ned));
        await MeasureAsync(scene.Wren, piece, "after coat", 25m);
        Assert.Single(await ReadyAsync(order, scene.Ned));
        Assert.Single(await ReadyAsync(order, scene.Mara));

        await MeasureAsync(scene.Wren, piece, "after coat", 26m);
        await MeasureAsync(scene.Wren, piece, "after coat", 25m);
        Assert.Single(await ReadyAsync(order, scene.Ned));
    }

    [Fact]
    public async Task Nobody_is_told_of_a_piece_that_a_nonconformance_stops_before_it_is_healed()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "tack"), Blast, Receive]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        var weld = await scene.StepsAsync(order, "weld");
        await scene.StartAsync(scene.Ida, weld);
        await MeasureAsync(scene.Ida, piece, "tack", 26m);
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, weld));
        Assert.Empty(await ReadyAsync(order, scene.Wren));
        await MeasureAsync(scene.Ida, piece, "tack", 25m);
        Assert.Single(await ReadyAsync(order, scene.Wren));
    }

    [Fact]
    public async Task What_an_engineer_decides_frees_the_piece_and_tells_the_coater()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, "tack", "hold", OpensBy: "report"), Blast, Receive], quantity: 2));
        var pieces = await scene.PiecesAsync(order);
        await scene.DoAsync(scene.Ida, order, "weld");
        await MeasureAsync(scene.Ida, pieces[0], "tack", 26m);
        var nonconformance = await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @Piece", new { Piece = pieces[0] });
        await new DisposeNonconformance.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(nonconformance, 1, "use as is", "it goes", null), Cancellation);
        Assert.Single(await ReadyAsync(order, scene.Wren));

        var unproven = await scene.ReportAsync(pieces[1], "tack", "not proven", ofBore: true);
        Assert.IsType<GrantConcession.Outcome.Granted>(await new GrantConcession.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(unproven, "near enough", null), Cancellation));
        Assert.Equal(2, (await ReadyAsync(order, scene.Wren)).Count);
    }

    [Fact]
    public async Task The_end_of_the_notice_time_tells_the_coater_once()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("weld", null, null, "witness", NoticeHours: 24), Blast, Receive]));
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.IsType<AskWitness.Outcome.Asked>(await new AskWitness.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(await scene.StepsAsync(order, "weld")), Cancellation));
        Assert.Empty(await ReadyAsync(order, scene.Wren));
        scene.Clock.Advance(TimeSpan.FromHours(25));
        var sweep = new SweepWitness.Handler(scene.Sources, scene.Clock);
        await sweep.RunAsync(Cancellation);
        await sweep.RunAsync(Cancellation);
        Assert.Single(await ReadyAsync(order, scene.Wren));
    }

    private async Task MeasureAsync(Actor actor, Guid piece, string stage, decimal bore)
    {
        scene.Clock.Advance(TimeSpan.FromSeconds(1));
        var value = new SubmitReport.Value(scene.CradleBore, 1, bore, "mm", bore.ToString(System.Globalization.CultureInfo.InvariantCulture), null, "", "");
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            actor, new(stage, [new(piece, [value])], null, Guid.CreateVersion7()), Cancellation));
    }

    private async Task<IReadOnlyList<string>> ReadyAsync(Guid order, Actor actor)
    {
        await using var owner = await scene.OwnerAsync();
        return [.. await Dapper.SqlMapper.QueryAsync<string>(
            owner, "select subject from notice where work_order_id = @order and person_id = @PersonId and kind = 'your turn' and subject like '%ready for%'", new { order, actor.PersonId })];
    }
}
