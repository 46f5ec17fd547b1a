using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Notices;

/// <summary>What nobody presses a button for: looked at over and over, said once. The scene's clock only goes forward, so each test has its own.</summary>
public sealed class SweepTests : IAsyncLifetime
{
    private readonly Scene _scene = new();

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public ValueTask InitializeAsync() => _scene.InitializeAsync();

    public ValueTask DisposeAsync() => _scene.DisposeAsync();

    [Fact]
    public async Task A_line_past_its_need_date_is_said_once_to_both_sides_however_often_and_in_how_many_portals_the_sweep_runs()
    {
        await _scene.AcceptedAsync(_scene.Line(need: _scene.Today.AddDays(3)));
        Assert.Equal(0, await SweepAsync());
        _scene.Clock.Advance(TimeSpan.FromDays(3));
        Assert.Equal(0, await SweepAsync());

        _scene.Clock.Advance(TimeSpan.FromDays(1));
        var told = await Task.WhenAll(SweepAsync(), SweepAsync(), SweepAsync());
        _scene.Clock.Advance(TimeSpan.FromDays(1));

        // The engineer and the buyer of the build shop, the fabricator of the shop.
        Assert.Equal(3, told.Sum() + await SweepAsync());
        Assert.Equal(3, await _scene.AskAsync<long>("select count(*) from outbox x join notice n on n.id = x.subject_id where n.kind = 'part late'"));
        Assert.Equal(0, await _scene.AskAsync<long>("select count(*) from notice where kind = 'part late' and organisation_id not in (@Saltmarsh, @HolmLane)", new { _scene.Saltmarsh, _scene.HolmLane }));
    }

    [Fact]
    public async Task A_promise_for_too_late_is_said_and_a_new_promise_is_said_again()
    {
        var order = await _scene.AcceptedAsync(_scene.Line(need: _scene.Today.AddDays(10)));
        var line = await _scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order });
        var promise = new MakePromise.Handler(_scene.Database, _scene.Clock);
        Assert.IsType<MakePromise.Outcome.Promised>(await promise.HandleAsync(_scene.Ida, new(order, line, _scene.Today.AddDays(12), "The plate is late."), Cancellation));

        Assert.Equal(3, await SweepAsync());
        Assert.Equal(0, await SweepAsync());
        var body = await _scene.AskAsync<string>("select body from notice where work_order_id = @order and kind = 'part late' limit 1", new { order });
        Assert.Contains("The shop says why: The plate is late.", body, StringComparison.Ordinal);
        Assert.DoesNotContain("give a new promise", body, StringComparison.Ordinal);
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<MakePromise.Outcome.Promised>(await promise.HandleAsync(_scene.Ida, new(order, line, _scene.Today.AddDays(14), "Still no plate."), Cancellation));
        Assert.Equal(3, await SweepAsync());
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<MakePromise.Outcome.Promised>(await promise.HandleAsync(_scene.Ida, new(order, line, _scene.Today.AddDays(9), "It came."), Cancellation));
        Assert.Equal(0, await SweepAsync());
    }

    [Fact]
    public async Task Drafts_declined_and_closed_orders_are_never_late()
    {
        await _scene.DraftAsync(_scene.Line(need: _scene.Today.AddDays(1)));
        var declined = await _scene.IssuedAsync(_scene.Line(need: _scene.Today.AddDays(1)));
        Assert.IsType<OrderAnswer.Given>(await new DeclineWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, new(declined, "No room."), Cancellation));
        _scene.Clock.Advance(TimeSpan.FromDays(5));

        Assert.Equal(0, await SweepAsync());
    }

    [Fact]
    public async Task Nobody_is_told_of_a_piece_that_is_given_up_and_no_witness_point_of_it_opens()
    {
        var order = await _scene.AcceptedAsync(_scene.Line(need: _scene.Today.AddDays(1), route: [new PlannedStep("cut", null, null, "witness", NoticeHours: 24), new PlannedStep("weld", null, "as welded")]));
        await _scene.DoAsync(_scene.Ida, order, "cut");
        Assert.IsType<AskWitness.Outcome.Asked>(await new AskWitness.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, new(await _scene.StepsAsync(order, "cut")), Cancellation));
        var piece = (await _scene.PiecesAsync(order))[0];
        var report = await _scene.ReportAsync(piece, "as welded", "does not conform");
        await _scene.AskAsync<int>(
            """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by, disposition, disposition_reason, disposed_at, disposed_by)
            select gen_random_uuid(), owner_id, work_order_id, id, @report, 'as welded', 'NC-1', now(), @PersonId, 'scrap', 'cut through', now(), @PersonId from piece where id = @piece
            """,
            new { report, piece, _scene.Ida.PersonId });
        _scene.Clock.Advance(TimeSpan.FromDays(5));

        Assert.Equal(0, await SweepAsync());
        Assert.Equal(0, await WitnessAsync());
    }

    [Fact]
    public async Task A_witness_point_goes_on_by_itself_only_after_its_notice_time_and_says_so_once()
    {
        var order = await _scene.AcceptedAsync(_scene.Line(route:
        [
            new PlannedStep("cut", null, null, "witness", NoticeHours: 24), new PlannedStep("weld", null, null),
        ]));
        await _scene.DoAsync(_scene.Ida, order, "cut");
        Assert.Equal(0, await WitnessAsync());
        var cut = await _scene.StepsAsync(order, "cut");
        Assert.IsType<AskWitness.Outcome.Asked>(await new AskWitness.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ida, new(cut), Cancellation));
        _scene.Clock.Advance(TimeSpan.FromHours(24) - TimeSpan.FromMinutes(1));
        Assert.Equal(0, await WitnessAsync());
        Assert.IsType<StartStep.Outcome.Refused>(await _scene.StartAsync(_scene.Ida, await _scene.StepsAsync(order, "weld")));

        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(1, (await Task.WhenAll(WitnessAsync(), WitnessAsync())).Sum());
        Assert.Equal(0, await WitnessAsync());
        Assert.IsType<StartStep.Outcome.Started>(await _scene.StartAsync(_scene.Ida, await _scene.StepsAsync(order, "weld")));
        Assert.Equal(1, await _scene.AskAsync<long>("select count(*) from notice where kind = 'notice time over'"));
    }

    private Task<int> SweepAsync() => new SweepLateness.Handler(_scene.Sources, _scene.Clock).HandleAsync(Cancellation);

    private Task<int> WitnessAsync() => new SweepWitness.Handler(_scene.Sources, _scene.Clock).RunAsync(Cancellation);
}
