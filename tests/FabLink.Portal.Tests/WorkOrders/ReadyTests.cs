using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
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
