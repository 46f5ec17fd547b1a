using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using Npgsql;

namespace FabLink.Portal.Tests.WorkOrders;

public sealed class StepTests(Scene scene) : IClassFixture<Scene>
{
    private const string StartRaw = "update piece_step set started_at = now(), started_by = @Person where id = any (@Steps)";

    [Fact]
    public async Task Steps_go_in_the_order_of_the_route_for_several_pieces_at_once()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, quantity: 4));
        var early = Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "fit and tack")));
        Assert.Equal("FL002", early.Why.Code);

        var cut = await scene.StepsAsync(order, "cut");
        Assert.Equal(4, Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, cut)).Serials.Count);
        Assert.Equal(4, Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, cut)).Serials.Count);
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "fit and tack")));
    }

    [Fact]
    public async Task Nothing_starts_after_a_hold_before_it_is_released_by_no_path()
    {
        var order = await scene.AcceptedAsync();
        await scene.DoAsync(scene.Ida, order, "cut");
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var weld = await scene.StepsAsync(order, "weld");

        Assert.Equal("FL003", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, weld)).Why.Code);
        Assert.Equal("FL003", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Mara, weld)).Why.Code);
        foreach (var actor in new[] { scene.Ida, scene.Mara })
        {
            Assert.Equal("FL003", await RefusedAsync(() => scene.AsAppAsync(actor, StartRaw, new { Steps = weld, Person = actor.PersonId })));
            Assert.Equal("FL008", await RefusedAsync(() => scene.AsAppAsync(scene.Ned, "update route_step set gate = 'none', opens_by = null where work_order_id = @order", new { order })));
        }

        await using var owner = await scene.OwnerAsync();
        Assert.Equal("FL003", await RefusedAsync(() => Dapper.SqlMapper.ExecuteAsync(owner, StartRaw, new { Steps = weld, Person = scene.Mara.PersonId })));
    }

    [Fact]
    public async Task A_conforming_report_at_its_stage_lets_the_piece_go_on_and_a_failing_one_does_not()
    {
        var order = await scene.AcceptedAsync();
        await scene.DoAsync(scene.Ida, order, "cut");
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var piece = Assert.Single(await scene.PiecesAsync(order));
        var tack = await scene.StepsAsync(order, "fit and tack");
        const string Open = "update piece_step set opened_at = @Now, opened_by = @Person, opened_how = 'report', report_id = @report where id = any (@tack)";

        var failing = await scene.ReportAsync(piece, "tack", "not proven", ofBore: true);
        Assert.Equal("FL006", await RefusedAsync(() => scene.AsAppAsync(scene.Ida, Open, new { report = failing, tack, Now = scene.Clock.GetUtcNow(), Person = scene.Ida.PersonId })));
        var conforming = await scene.ReportAsync(piece, "tack", "conforms", ofBore: true);
        Assert.Equal(1, await scene.AsAppAsync(scene.Ida, Open, new { report = conforming, tack, Now = scene.Clock.GetUtcNow(), Person = scene.Ida.PersonId }));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld")));
    }

    [Fact]
    public async Task Two_people_who_start_the_same_step_at_once_start_it_once()
    {
        var order = await scene.AcceptedAsync();
        var cut = await scene.StepsAsync(order, "cut");
        var both = await Task.WhenAll(scene.StartAsync(scene.Ida, cut), scene.StartAsync(scene.Mara, cut));
        Assert.Single(both.OfType<StartStep.Outcome.Started>());
        var second = Assert.Single(both.OfType<StartStep.Outcome.AlreadyStarted>());
        Assert.Contains(second.By, new[] { "Ida Holm", "Mara Quill" });
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from audit where table_name = 'piece_step' and action = 'update' and row_key = @Step::text", new { Step = cut[0] }));
    }

    [Fact]
    public async Task One_piece_that_may_not_start_keeps_the_others_from_starting()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, quantity: 2));
        var cut = await scene.StepsAsync(order, "cut");
        await scene.StartAsync(scene.Ida, cut[1]);
        Assert.IsType<StartStep.Outcome.AlreadyStarted>(await scene.StartAsync(scene.Ida, cut));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from piece_step where id = any (@cut) and started_at is not null", new { cut }));
    }

    [Fact]
    public async Task A_double_click_on_finish_finishes_once_and_says_who_did()
    {
        var order = await scene.AcceptedAsync();
        var cut = await scene.StepsAsync(order, "cut");
        Assert.IsType<FinishStep.Outcome.NotStarted>(await scene.FinishAsync(scene.Ida, cut));
        await scene.StartAsync(scene.Ida, cut);
        var both = await Task.WhenAll(scene.FinishAsync(scene.Ida, cut), scene.FinishAsync(scene.Ida, cut));
        Assert.Single(both.OfType<FinishStep.Outcome.Finished>());
        Assert.Equal("Ida Holm", Assert.Single(both.OfType<FinishStep.Outcome.AlreadyFinished>()).By);
    }

    [Fact]
    public async Task Of_several_pieces_finished_at_once_only_those_not_measured_yet_are_held()
    {
        var order = await scene.AcceptedAsync(scene.Line(quantity: 3, route: [new("fit and tack", null, "tack", "hold", "report"), new("weld", null, null)]));
        var (tack, pieces) = (await scene.StepsAsync(order, "fit and tack"), await scene.PiecesAsync(order));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, tack));
        var values = new SubmitReport.PieceValues(pieces[0], [new(scene.CradleBore, 1, 25m, "mm", "25", null, "", "")]);
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Ida, new("tack", [values], null, Guid.CreateVersion7()), TestContext.Current.CancellationToken));

        var done = Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, tack));
        var held = Assert.Single(done.Closed);
        Assert.Equal((3, "hold", "report", "tack"), (done.Serials.Count, held.Kind, held.OpensBy, held.Stage));
        Assert.Equal(done.Serials.Skip(1), held.Serials);
    }

    [Fact]
    public async Task Nothing_starts_before_the_order_is_accepted()
    {
        var order = await scene.IssuedAsync();
        Assert.IsType<StartStep.Outcome.NotAccepted>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "cut")));
    }

    [Fact]
    public async Task The_coater_moves_its_own_steps_and_finds_no_others()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("cut", null, null), new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, null)]));
        var cut = await scene.StepsAsync(order, "cut");
        Assert.IsType<StartStep.Outcome.NotFound>(await scene.StartAsync(scene.Wren, cut));
        Assert.Equal(0, await scene.AsAppAsync(scene.Wren, StartRaw, new { Steps = cut, Person = scene.Wren.PersonId }));

        var coat = await scene.StepsAsync(order, "powder coat");
        Assert.Equal("FL002", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Wren, coat)).Why.Code);
        await scene.DoAsync(scene.Ida, order, "cut");
        Assert.Equal("Teal Coatings", Assert.IsType<StartStep.Outcome.NotYours>(await scene.StartAsync(scene.Ida, coat)).Organisation);
        Assert.Equal("42501", await RefusedAsync(() => scene.AsAppAsync(scene.Ida, StartRaw, new { Steps = coat, Person = scene.Ida.PersonId })));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        Assert.IsType<StartStep.Outcome.NotFound>(await scene.StartAsync(scene.Wren, await scene.StepsAsync(order, "receive")));
        Assert.IsType<StartStep.Outcome.NotFound>(await scene.StartAsync(scene.Tom, coat));
    }

    [Fact]
    public async Task Whoever_has_the_next_step_is_told_when_its_turn_has_come()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, 3, route: [new("cut", null, null), new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var told = await scene.AskAsync<string>("select subject from notice where work_order_id = @order and person_id = @Person", new { order, Person = scene.Wren.PersonId });
        Assert.Contains("ready for powder coat", told, StringComparison.Ordinal);
        Assert.Contains(" to ", told, StringComparison.Ordinal);
        await scene.DoAsync(scene.Wren, order, "powder coat");
        Assert.Equal(1, await scene.AskAsync<long>(
            "select count(*) from notice where work_order_id = @order and person_id = @Person and subject like '%ready for receive'", new { order, Person = scene.Ned.PersonId }));
    }

    [Fact]
    public async Task What_was_said_of_a_step_is_not_taken_back()
    {
        var order = await scene.AcceptedAsync();
        await scene.DoAsync(scene.Ida, order, "cut");
        var cut = await scene.StepsAsync(order, "cut");
        Assert.Equal("FL008", await RefusedAsync(() => scene.AsAppAsync(scene.Ida, "update piece_step set finished_at = null, finished_by = null where id = any (@cut)", new { cut })));
    }

    private static async Task<string> RefusedAsync(Func<Task> act) => (await Assert.ThrowsAsync<PostgresException>(act)).SqlState;
}
