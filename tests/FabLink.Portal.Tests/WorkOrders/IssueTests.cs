using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;

namespace FabLink.Portal.Tests.WorkOrders;

public sealed class IssueTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task Issuing_gives_a_number_serials_and_a_step_of_every_piece_for_every_step_of_the_route()
    {
        var order = await scene.DraftAsync(scene.Line(scene.BracketA, quantity: 4), scene.Line(scene.CradleA));
        var issued = Assert.IsType<IssueWorkOrder.Outcome.Issued>(await IssueAsync(order, 1));

        Assert.Matches("^WO-[0-9]{4}$", issued.Number);
        Assert.Equal(5, issued.Pieces);
        var serials = await scene.AskAsync<string[]>("select array_agg(serial order by serial) from piece where work_order_id = @order", new { order });
        Assert.All(serials!, serial => Assert.Matches("^RH-1[14]0-[0-9]{3}$", serial));
        Assert.Equal(5, serials!.Distinct().Count());
        Assert.Equal(35, await scene.AskAsync<long>("select count(*) from piece_step where work_order_id = @order", new { order }));
    }

    [Fact]
    public async Task The_shop_sees_a_work_order_only_once_it_is_issued_and_is_told_of_it()
    {
        var order = await scene.DraftAsync();
        Assert.IsType<OrderAnswer.NotFound>(await AcceptAsync(scene.Ida, order));
        await IssueAsync(order, 1);
        Assert.Equal(1, await scene.AskAsync<long>(
            "select count(*) from notice n join outbox o on o.subject_id = n.id where n.work_order_id = @order and n.person_id = @Person and n.path = '/orders/' || @order",
            new { order, Person = scene.Ida.PersonId }));
        Assert.IsType<OrderAnswer.Given>(await AcceptAsync(scene.Ida, order));
    }

    [Fact]
    public async Task A_second_press_of_issue_makes_no_second_set_of_pieces()
    {
        var order = await scene.DraftAsync();
        var both = await Task.WhenAll(IssueAsync(order, 1), IssueAsync(order, 1));
        Assert.Single(both.OfType<IssueWorkOrder.Outcome.Issued>());
        Assert.Single(both.OfType<IssueWorkOrder.Outcome.AlreadyIssued>());
        Assert.Single(await scene.PiecesAsync(order));
    }

    /// <summary>The drawing of the scene asks at tack and after coat. A report of nothing would open nothing, and the piece would stand for ever.</summary>
    [Fact]
    public async Task A_hold_for_a_report_of_nothing_is_said_on_the_draft_and_opened_by_an_engineer_by_name()
    {
        PlannedStep[] route = [new("fit and tack", null, "tack", "hold", "report"), new("inspect", null, "before coat", "hold", "report"), new("ship", null, null)];
        var line = scene.Line(route: route);
        var order = await scene.DraftAsync(line, scene.Line(need: scene.Today.AddDays(-1)));
        Assert.Equal(
            [
                "Line 1, step 2 (inspect) holds for a report at stage before coat, and RH-110 A asks for nothing at that stage: an engineer opens this hold by name.",
                "RH-110 A asks for 1 balloon at stage after coat, and no step of line 1 takes a report there: nobody is told to measure it.",
                "Line 2, step 4 (inspect) holds for a report at stage before coat, and RH-110 A asks for nothing at that stage: an engineer opens this hold by name.",
                "Line 2, step 6 (powder coat): nothing waits for its report at stage after coat, and a piece goes on without it. Let the step hold for the report.",
                "Line 2 is needed on Sun 22 Nov 2026, which is over.",
            ],
            (await ShowAsync(scene.Ned, order))!.Remarks);

        order = await scene.AcceptedAsync(line);
        Assert.Empty((await ShowAsync(scene.Ned, order))!.Remarks);
        Assert.Equal(
            ["report", "person"],
            (await scene.AskAsync<string[]>("select array_agg(opens_by order by ordinal) from route_step where work_order_id = @order and gate = 'hold'", new { order }))!);
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var tack = await scene.StepsAsync(order, "fit and tack");
        await scene.ReportAsync(Assert.Single(await scene.PiecesAsync(order)), "tack", "conforms", ofBore: true);
        await scene.AskAsync<object>("update piece_step set opened_at = now(), opened_how = 'report', report_id = (select id from report where work_order_id = @order) where id = any (@tack)", new { order, tack });
        await scene.DoAsync(scene.Ida, order, "inspect");
        Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));
        Assert.IsType<OpenGate.Outcome.Opened>(await new OpenGate.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(await scene.StepsAsync(order, "inspect"), "looked at"), Cancellation));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));
    }

    [Fact]
    public async Task An_order_of_an_older_revision_says_that_there_is_a_newer_one()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA));
        Assert.Null(Assert.Single((await ShowAsync(scene.Ida, order))!.Lines).NewerRevision);
        const string Next = """
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by)
            select gen_random_uuid(), owner_id, drawing_id, part_id, 'B', true, now(), created_by from revision where id = @BracketA;
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            select gen_random_uuid(), owner_id, id, 1, 'length', '5 ±1', 'mm', 5, 4, 6, 'stated', 'minor', '{tack}', 'before coating', 1, 'simple' from revision where part_id = @Bracket and letter = 'B';
            update revision set released_at = now(), released_by = created_by where part_id = @Bracket and letter = 'B'
            """;
        await scene.AskAsync<object>(Next, new { scene.BracketA, scene.Bracket });
        Assert.Equal("B", Assert.Single((await ShowAsync(scene.Ida, order))!.Lines).NewerRevision);
    }

    [Fact]
    public async Task What_was_edited_since_it_was_read_is_not_issued()
    {
        var order = await scene.DraftAsync();
        Assert.IsType<IssueWorkOrder.Outcome.Stale>(await IssueAsync(order, 7));
        Assert.Empty(await scene.PiecesAsync(order));
    }

    [Fact]
    public async Task A_revision_that_is_not_released_cannot_be_ordered()
    {
        var outcome = await CreateAsync(scene.Line(scene.CradleBUnreleased));
        Assert.Equal("Lines[0].RevisionId", Assert.IsType<CreateWorkOrder.Outcome.NotThere>(outcome).Field);
    }

    [Fact]
    public async Task A_step_is_given_only_to_a_shop_of_ones_own()
    {
        var outcome = await CreateAsync(scene.Line(route: [new("cut", null, null), new("blast", Guid.NewGuid(), null)]));
        Assert.Equal("Lines[0].Route[1].OrganisationId", Assert.IsType<CreateWorkOrder.Outcome.NotThere>(outcome).Field);
    }

    [Fact]
    public async Task Only_the_build_shop_writes_and_issues_work_orders()
    {
        var request = new CreateWorkOrder.Request(scene.Dunlin, null, null, [scene.Line()]);
        Assert.IsType<CreateWorkOrder.Outcome.NotAllowed>(await new CreateWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, request, Cancellation));
        var order = await scene.IssuedAsync();
        Assert.IsType<IssueWorkOrder.Outcome.NotAllowed>(await new IssueWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order, 2), Cancellation));
    }

    [Fact]
    public async Task A_shop_that_never_logs_in_has_its_answer_given_on_its_behalf_and_marked_so()
    {
        var order = await scene.IssuedAsync();
        Assert.Equal("Holm Lane Fabrication", Assert.IsType<OrderAnswer.Given>(await AcceptAsync(scene.Mara, order)).OnBehalfOf);
        Assert.True(await scene.AskAsync<bool>("select accepted_for from work_order where id = @order", new { order }));
        Assert.Equal("Mara Quill", Assert.IsType<OrderAnswer.AlreadyAccepted>(await AcceptAsync(scene.Ida, order)).By);
    }

    [Fact]
    public async Task Another_shop_and_the_coater_do_not_find_the_order_at_all()
    {
        var order = await scene.IssuedAsync();
        Assert.IsType<OrderAnswer.NotFound>(await AcceptAsync(scene.Tom, order));
        Assert.IsType<OrderAnswer.NotFound>(await AcceptAsync(scene.Wren, order));
    }

    private Task<ShowWorkOrder.Page?> ShowAsync(Portal.Platform.People.Actor actor, Guid order) =>
        new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(actor, order, Cancellation);

    private Task<IssueWorkOrder.Outcome> IssueAsync(Guid order, int rowVersion) =>
        new IssueWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, rowVersion), Cancellation);

    private Task<OrderAnswer> AcceptAsync(Portal.Platform.People.Actor actor, Guid order) =>
        new AcceptWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(order), Cancellation);

    private Task<CreateWorkOrder.Outcome> CreateAsync(params PlannedLine[] lines) =>
        new CreateWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(scene.HolmLane, null, null, lines), Cancellation);
}
