using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Shipping;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using Npgsql;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>Holds, witness points and what leaves the shop.</summary>
public sealed class GateTests(Scene scene) : IClassFixture<Scene>
{
    private static readonly PlannedStep _cut = new("cut", null, null);
    private static readonly PlannedStep _weldHeld = new("weld", null, "as welded", "hold", "person");
    private static readonly PlannedStep _weldWitnessed = new("weld", null, null, "witness", null, 24);

    private const string RawReport = """
        insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
        select @id, owner_id, work_order_id, id, revision_id, @OrganisationId, @stage, 'typed', @id, now(), @PersonId, 'conforms', 1, 0, 0 from piece where id = @piece
        """;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_hold_that_a_person_opens_is_released_by_an_engineer_with_a_reason_and_by_nobody_else()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldHeld, new("ship", null, null)]));
        var weld = await scene.StepsAsync(order, "weld");
        await scene.DoAsync(scene.Ida, order, "weld");
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and person_id = @Person and subject like '%release asked'", new { order, Person = scene.Mara.PersonId }));

        Assert.IsType<OpenGate.Outcome.NotAllowed>(await OpenAsync(scene.Ned, weld));
        Assert.IsType<OpenGate.Outcome.NotAllowed>(await OpenAsync(scene.Ida, weld));
        Assert.IsType<OpenGate.Outcome.NotFound>(await OpenAsync(scene.Tom, weld));
        Assert.False(new OpenGate.Validator().Validate(new OpenGate.Request(weld, "")).IsValid);
        Assert.IsType<OpenGate.Outcome.Opened>(await OpenAsync(scene.Mara, weld));
        Assert.IsType<OpenGate.Outcome.AlreadyOpen>(await OpenAsync(scene.Mara, weld));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));
    }

    [Fact]
    public async Task A_hold_that_a_report_opens_is_not_released_by_a_person()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("fit and tack", null, "tack", "hold", "report")]));
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        Assert.Equal("tack", Assert.IsType<OpenGate.Outcome.OpensByReport>(await OpenAsync(scene.Mara, await scene.StepsAsync(order, "fit and tack"))).Stage);
    }

    [Fact]
    public async Task What_does_not_conform_is_not_released_here()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldHeld, new("ship", null, null)]));
        await scene.DoAsync(scene.Ida, order, "weld");
        var number = await NonconformAsync(order, "as welded");
        Assert.Equal(number, Assert.IsType<OpenGate.Outcome.DoesNotConform>(await OpenAsync(scene.Mara, await scene.StepsAsync(order, "weld"))).Number);
        Assert.IsType<ShipPieces.Outcome.Refused>(await ShipAsync(scene.Ida, order, await scene.PiecesAsync(order)));
    }

    /// <summary>Only "conforms" passes by word; the rest is a concession with its reason and serial.</summary>
    [Fact]
    public async Task What_is_not_proven_is_not_released_by_word()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("fit and tack", null, "tack", "hold", "person"), new("ship", null, null)]));
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var piece = Assert.Single(await scene.PiecesAsync(order));
        var report = await scene.ReportAsync(piece, "tack", "not proven", ofBore: true);
        var steps = await scene.StepsAsync(order, "fit and tack");
        Assert.Equal(report, Assert.IsType<OpenGate.Outcome.NotProven>(await OpenAsync(scene.Mara, steps)).ReportId);
        Assert.Equal(report, (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, piece, Cancellation))!.Unproven?.Id);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await scene.ReportAsync(piece, "tack", "conforms", ofBore: true);
        Assert.IsType<OpenGate.Outcome.Opened>(await OpenAsync(scene.Mara, steps));
    }

    [Theory]
    [InlineData("weld", "witness", null, 24)]
    [InlineData("inspect", "witness", null, 24)]
    [InlineData("weld", "hold", "person", null)]
    public async Task Nobody_releases_what_has_not_begun_by_the_page_or_past_it(string kind, string gate, string? opensBy, int? hours)
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new(kind, null, null, gate, opensBy, hours), new("ship", null, null)]));
        var weld = await scene.StepsAsync(order, kind);
        const string Raw = "update piece_step set opened_at = now(), opened_by = @PersonId, opened_how = 'person', opened_reason = 'seen' where id = any (@weld)";

        Assert.IsType<OpenGate.Outcome.NotStarted>(await OpenAsync(scene.Mara, weld));
        Assert.Equal("FL006", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Mara, Raw, new { weld, scene.Mara.PersonId }))).SqlState);

        // A witness comes while it is in work; a hold is looked at when the work is done.
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, weld));
        if (gate == "witness")
        {
            Assert.IsType<OpenGate.Outcome.Opened>(await OpenAsync(scene.Mara, weld));
            return;
        }
        Assert.IsType<OpenGate.Outcome.NotFinished>(await OpenAsync(scene.Mara, weld));
        Assert.Equal("FL006", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Mara, Raw, new { weld, scene.Mara.PersonId }))).SqlState);
    }

    /// <summary>Who concedes what a report leaves open has looked at it: the witness point is passed as a hold is.</summary>
    [Fact]
    public async Task What_is_conceded_at_a_witness_point_goes_on()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("fit and tack", null, "tack", "witness", null, 24), new("ship", null, null)]));
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var report = await scene.ReportAsync(Assert.Single(await scene.PiecesAsync(order)), "tack", "not proven", ofBore: true);
        Assert.IsType<OpenGate.Outcome.NotProven>(await OpenAsync(scene.Mara, await scene.StepsAsync(order, "fit and tack")));
        Assert.Equal("fit and tack", (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Mara, report, Cancellation))!.PassesWitness);
        Assert.IsType<GrantConcession.Outcome.Granted>(await new GrantConcession.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(report, "It will do.", null), Cancellation));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));
    }

    /// <summary>Also where whoever ends the step does not see what somebody else found.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Nobody_is_asked_to_release_what_does_not_conform(bool elsewhere)
    {
        var (actor, shop, stage) = elsewhere ? (scene.Tom, scene.Dunlin, "tack") : (scene.Ida, (Guid?)null, "as welded");
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldHeld with { OrganisationId = shop }, new("ship", null, null)]));
        var weld = await scene.StepsAsync(order, "weld");
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(actor, weld));
        await NonconformAsync(order, stage);
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(actor, weld));
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and subject like '%release asked'", new { order }));
    }

    [Fact]
    public async Task An_open_nonconformance_stops_the_piece()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_cut, new("weld", null, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        await NonconformAsync(order, "cut");
        Assert.Equal("FL005", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld"))).Why.Code);
    }

    [Fact]
    public async Task After_an_invitation_the_route_goes_on_when_the_notice_time_is_over_and_not_a_minute_before()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldWitnessed, new("ship", null, null)]));
        var weld = await scene.StepsAsync(order, "weld");
        Assert.IsType<AskWitness.Outcome.NotStarted>(await InviteAsync(scene.Ida, weld));
        await scene.DoAsync(scene.Ida, order, "weld");
        var ship = await scene.StepsAsync(order, "ship");
        Assert.Equal("FL004", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, ship)).Why.Code);

        Assert.IsType<AskWitness.Outcome.Asked>(await InviteAsync(scene.Ida, weld));
        Assert.IsType<AskWitness.Outcome.AlreadyAsked>(await InviteAsync(scene.Ida, weld));
        var sweep = new SweepWitness.Handler(scene.Sources, scene.Clock);
        scene.Clock.Advance(TimeSpan.FromHours(24) - TimeSpan.FromMinutes(1));
        await sweep.RunAsync(Cancellation);
        Assert.Equal("FL004", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, ship)).Why.Code);

        const string Forge = "update piece_step set opened_at = asked_at + interval '25 hours', opened_how = 'notice time over' where id = any (@weld)";
        Assert.Equal("FL006", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { weld }))).SqlState);

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(1, await sweep.RunAsync(Cancellation));
        Assert.Equal(0, await sweep.RunAsync(Cancellation));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, ship));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where work_order_id = @order and kind = 'notice time over'", new { order }));
    }

    [Fact]
    public async Task A_witness_who_comes_releases_the_step_before_the_notice_time_is_over()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldWitnessed, new("ship", null, null)]));
        await scene.DoAsync(scene.Ida, order, "weld");
        await InviteAsync(scene.Ida, await scene.StepsAsync(order, "weld"));
        Assert.IsType<OpenGate.Outcome.Opened>(await OpenAsync(scene.Mara, await scene.StepsAsync(order, "weld")));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));
    }

    [Fact]
    public async Task Pieces_leave_in_parts_and_the_slip_says_what_is_still_due()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, 4, route: [_cut, new("ship", null, null), new("receive", scene.Saltmarsh, null)]));
        var pieces = await scene.PiecesAsync(order);
        Assert.Equal("FL002", Assert.IsType<ShipPieces.Outcome.Refused>(await ShipAsync(scene.Ida, order, pieces)).Why.Code);
        await scene.DoAsync(scene.Ida, order, "cut");

        var first = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(scene.Ida, order, [.. pieces.Take(3)]));
        Assert.Matches("^PS-[0-9]{4}$", first.Number);
        Assert.Equal(1, first.StillDue);
        Assert.IsType<ShipPieces.Outcome.AlreadyShipped>(await ShipAsync(scene.Ida, order, [pieces[0], pieces[3]]));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var second = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(scene.Ned, order, [pieces[3]]));
        Assert.Equal((0, "Holm Lane Fabrication"), (second.StillDue, second.OnBehalfOf));
        var slip = await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Ida, first.Id, Cancellation);
        Assert.Equal((3, 0, 1), (slip!.Lines[0].ShippedOnThis, slip.Lines[0].GoneBefore, slip.Lines[0].StillDue));
        var later = await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Ida, second.Id, Cancellation);
        Assert.Equal((1, 3, 0), (later!.Lines[0].ShippedOnThis, later.Lines[0].GoneBefore, later.Lines[0].StillDue));
        Assert.Null(await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Tom, first.Id, Cancellation));

        Assert.Equal(4, await scene.AskAsync<long>(
            "select count(*) from piece_step s join route_step r on r.id = s.route_step_id where s.work_order_id = @order and r.kind = 'ship' and s.finished_at is not null", new { order }));
        Assert.IsType<CloseWorkOrder.Outcome.StillDue>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order), Cancellation));
        await scene.DoAsync(scene.Ned, order, "receive");
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order), Cancellation));
    }

    [Fact]
    public async Task A_piece_that_another_shop_has_in_work_does_not_leave()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, 2, route: [_cut, new("powder coat", scene.Teal, null), new("receive", scene.Saltmarsh, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var pieces = await scene.PiecesAsync(order);
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, (await scene.StepsAsync(order, "powder coat"))[0]));
        Assert.Equal("powder coat at Teal Coatings", Assert.IsType<ShipPieces.Outcome.Elsewhere>(await ShipAsync(scene.Ida, order, pieces)).Where);
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from packing_slip where work_order_id = @order", new { order }));
        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.Equal([false, true], page.Pieces.Select(piece => Leaving.May(piece.Route, scene.HolmLane)));
        Assert.Equal("powder coat at Teal Coatings: in work", Leaving.Where(page.Pieces[0].Route, scene.HolmLane));
    }

    [Fact]
    public async Task What_is_not_through_before_the_step_ship_is_not_offered()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_cut, new("powder coat", scene.Teal, null), new("ship", null, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.False(Leaving.May(page.Pieces[0].Route, scene.HolmLane));
        Assert.Equal("powder coat at Teal Coatings: planned", Leaving.Where(page.Pieces[0].Route, scene.HolmLane));
    }

    [Fact]
    public async Task A_slip_goes_to_whoever_has_the_next_step_of_all_its_pieces_and_keeps_saying_so()
    {
        var order = await scene.AcceptedAsync(
            scene.Line(scene.BracketA, 2, route: [_cut, new("powder coat", scene.Teal, null), new("receive", scene.Saltmarsh, null)]),
            scene.Line(scene.CradleA, 1, route: [_cut, new("receive", scene.Saltmarsh, null)]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var pieces = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!.Pieces;
        var brackets = pieces.Where(piece => piece.PartNumber == "RH-140").Select(piece => piece.Id).ToList();
        var first = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(scene.Ida, order, [brackets[0]]));
        Assert.Equal("Teal Coatings", first.To);
        var rest = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(scene.Ida, order, [.. pieces.Select(piece => piece.Id).Where(id => id != brackets[0])]));
        Assert.Null(rest.To);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await scene.DoAsync(scene.Wren, order, "powder coat");
        var show = new ShowSlip.Handler(scene.Database);
        Assert.Equal("Teal Coatings", (await show.HandleAsync(scene.Ida, first.Id, Cancellation))!.Slip.To);
        Assert.Equal("Saltmarsh Works", (await show.HandleAsync(scene.Ida, rest.Id, Cancellation))!.Slip.To);
    }

    /// <summary>The message, the slip and the page of the order count the same pieces.</summary>
    [Fact]
    public async Task What_is_scrapped_or_made_anew_is_not_due()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, 4, route: [_cut]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var pieces = await scene.PiecesAsync(order);
        var dispose = new Portal.Features.Nonconformances.DisposeNonconformance.Handler(scene.Database, scene.Clock);
        foreach (var (piece, disposition) in new[] { (pieces[0], "scrap"), (pieces[1], "remake") })
        {
            var number = await NonconformAsync(order, "tack", piece);
            var id = await scene.AskAsync<Guid>("select id from nonconformance where number = @number and piece_id = @piece", new { number, piece });
            Assert.IsType<Portal.Features.Nonconformances.DisposeNonconformance.Outcome.Disposed>(await dispose.HandleAsync(scene.Mara, new(id, 1, disposition, "bent", null), Cancellation));
        }

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var shipped = Assert.IsType<ShipPieces.Outcome.Shipped>(await ShipAsync(scene.Ida, order, [pieces[2]]));
        Assert.Equal(2, shipped.StillDue);
        var line = Assert.Single((await new ShowSlip.Handler(scene.Database).HandleAsync(scene.Ida, shipped.Id, Cancellation))!.Lines);
        Assert.Equal((4, 1, 1, 0, 2), (line.Ordered, line.Scrapped, line.ShippedOnThis, line.GoneBefore, line.StillDue));
        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.Equal((2, 3), (page.StillDue, page.GoingOn));
    }

    [Fact]
    public async Task The_list_where_it_is_our_turn_says_how_many_pieces_are_ours()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.BracketA, 3, route: [_cut, new("weld", null, null)]));
        async Task<ListWorkOrders.Row> RowAsync(Actor actor, string show) =>
            Assert.Single((await new ListWorkOrders.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(show), Cancellation)).Rows, row => row.Facts.Id == order);
        Assert.Equal("Holm Lane Fabrication", (await RowAsync(scene.Ida, "ours")).Turn);
        await NonconformAsync(order, "tack");
        Assert.Equal("Saltmarsh Works, and yours: 2 pieces", (await RowAsync(scene.Ida, "ours")).Turn);
        Assert.Equal("Saltmarsh Works, and yours: 2 pieces", (await RowAsync(scene.Ida, "open")).Turn);
        Assert.Equal("Saltmarsh Works", (await RowAsync(scene.Ned, "ours")).Turn);
    }

    [Fact]
    public async Task An_order_that_is_accepted_is_cancelled_with_a_reason_that_every_shop_on_it_is_told()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_cut, new("powder coat", scene.Teal, null)]));
        var close = new CloseWorkOrder.Handler(scene.Database, scene.Clock);
        Assert.IsType<CloseWorkOrder.Outcome.NotAllowed>(await close.HandleAsync(scene.Ida, new(order, "no time"), Cancellation));
        Assert.IsType<CloseWorkOrder.Outcome.StillDue>(await close.HandleAsync(scene.Ned, new(order, "  "), Cancellation));
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(scene.Ned, new(order, "The winch is bought instead."), Cancellation));
        Assert.Equal("The winch is bought instead.", await scene.AskAsync<string>("select close_reason from work_order where id = @order", new { order }));
        Assert.Equal(2, await scene.AskAsync<long>(
            "select count(distinct organisation_id) from notice where work_order_id = @order and kind = 'work order cancelled' and body like '%The winch is bought instead.%'", new { order }));
        var number = await scene.AskAsync<string>("select number from work_order where id = @order", new { order });
        Assert.Equal($"{number} is cancelled: The winch is bought instead. Nothing more is done with the piece.",
            Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "cut"))).Why.Sentence);
        Assert.StartsWith("Its order is cancelled: The winch", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Wren, await scene.StepsAsync(order, "powder coat"))).Why.Sentence, StringComparison.Ordinal);
        var (toShop, toCoater) = (await CancelBodyAsync(order, scene.HolmLane), await CancelBodyAsync(order, scene.Teal));
        Assert.EndsWith("What becomes of what is made, ask on the order.", toShop, StringComparison.Ordinal);
        Assert.EndsWith("What becomes of what is made, Saltmarsh Works says.", toCoater, StringComparison.Ordinal);
        Assert.Equal("FL008", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Ned, "update work_order set close_reason = 'other' where id = @order", new { order }))).SqlState);
    }

    /// <summary>Cancelled is cancelled for everybody on the order, on the pages and by every path.</summary>
    [Fact]
    public async Task Nothing_is_done_any_more_with_a_piece_of_a_cancelled_order()
    {
        var order = await scene.AcceptedAsync(scene.Line(scene.CradleA, 2, route: [_weldHeld, new("powder coat", scene.Teal, "after coat")]));
        var pieces = await scene.PiecesAsync(order);
        var held = await scene.StepsAsync(order, "weld");
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, held[0]));
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, held[0]));
        var number = await NonconformAsync(order, "as welded", pieces[1]);
        Assert.True(Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, "customer gone"), Cancellation)).Cancelled);

        foreach (var actor in new[] { scene.Ida, scene.Mara, scene.Ned, scene.Wren })
        {
            var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, pieces[0], Cancellation))!;
            Assert.EndsWith("is cancelled", page.Next.Headline, StringComparison.Ordinal);
            Assert.Contains("customer gone", page.Next.ToDo, StringComparison.Ordinal);
            Assert.Equal(Move.None, page.Next.Move);
            Assert.Empty(page.Stages);
            if (actor != scene.Wren)
                Assert.Equal("Ned Carr", Assert.Single(page.History, entry => entry is { What: "cancelled with its order: customer gone", Stop: true }).By);
        }

        Assert.Equal("FL015", Assert.IsType<OpenGate.Outcome.Refused>(await OpenAsync(scene.Mara, [held[0]])).Why.Code);
        var nonconformance = await scene.AskAsync<Guid>("select id from nonconformance where number = @number", new { number });
        var dispose = new Portal.Features.Nonconformances.DisposeNonconformance.Handler(scene.Database, scene.Clock);
        Assert.Contains("is cancelled", Assert.IsType<Portal.Features.Nonconformances.DisposeNonconformance.Outcome.Stale>(
            await dispose.HandleAsync(scene.Mara, new(nonconformance, 1, "remake", "again", null), Cancellation)).Now, StringComparison.Ordinal);
        Assert.Equal(2, await scene.AskAsync<long>("select count(*) from piece where work_order_id = @order", new { order }));
        var book = await new Portal.Features.Nonconformances.ShowNonconformance.Handler(scene.Database).ListAsync(scene.Mara, Cancellation);
        Assert.False(Assert.Single(book, row => row.Number == number).IsPending);

        var refused = await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Ida, RawReport, new { id = Guid.CreateVersion7(), piece = pieces[0], stage = "tack", scene.Ida.OrganisationId, scene.Ida.PersonId }));
        Assert.Equal("FL015", refused.SqlState);
        var shown = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, order, Cancellation))!;
        Assert.Equal("Cancelled", shown.Standing.Headline);
        Assert.Equal(0, shown.StillDue);
        Assert.DoesNotContain((await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Wren, Cancellation)).Coming, row => pieces.Contains(row.PieceId));
    }

    /// <summary>What is through when the rest is cancelled stays in its place in the build; what never was made leaves it to the one ordered anew.</summary>
    [Fact]
    public async Task What_was_through_before_its_order_was_cancelled_is_used()
    {
        var part = scene.BracketA;
        async Task<Guid[]> InPlaceAsync() => (await scene.AskAsync<Guid[]>("select array(select piece_id from pieces_in_place(@Build) where revision_id = @part order by place)", new { scene.Build, part }))!;
        var before = await InPlaceAsync();
        var order = await scene.AcceptedAsync(scene.Line(part, 2, route: [_cut]));
        var cut = await scene.StepsAsync(order, "cut");
        var pieces = await scene.PiecesAsync(order);
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, cut[0]));
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, cut[0]));
        await scene.AskAsync<int>("update outbox set done_at = now() where kind = 're-check a build'");
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await new CloseWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, "one is enough"), Cancellation));

        var after = await InPlaceAsync();
        Assert.Equal([.. before, pieces[0]], after);
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from outbox where kind = 're-check a build' and subject_id = @Build and done_at is null", new { scene.Build }));
        Assert.Equal("cancelled", (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, pieces[1], Cancellation))!.Piece.Route.Ended);
        Assert.EndsWith("is through its route", (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, pieces[0], Cancellation))!.Next.Headline, StringComparison.Ordinal);
        Assert.Contains((await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, pieces[0], Cancellation))!.History, entry => entry is { What: "rest of the order cancelled: one is enough", Stop: false });
    }

    private Task<string?> CancelBodyAsync(Guid order, Guid organisation) =>
        scene.AskAsync<string>("select body from notice where work_order_id = @order and organisation_id = @organisation and kind = 'work order cancelled' limit 1", new { order, organisation });

    [Fact]
    public async Task An_order_is_not_put_away_over_a_nonconformance_that_nobody_decided()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("receive", null, "receiving")]));
        await scene.DoAsync(scene.Ida, order, "receive");
        var number = await NonconformAsync(order, "receiving");
        var close = new CloseWorkOrder.Handler(scene.Database, scene.Clock);
        Assert.Single(Assert.IsType<CloseWorkOrder.Outcome.StillDue>(await close.HandleAsync(scene.Ned, new(order), Cancellation)).Serials);
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, (await scene.PiecesAsync(order))[0], Cancellation))!;
        Assert.EndsWith("does not conform: stop", page.Next.Headline, StringComparison.Ordinal);
        Assert.Equal(Move.SeeNonconformance, page.Next.Move);
        var board = await new Portal.Features.Board.ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation);
        var row = Assert.Single(board.Pieces, each => each.Row.WorkOrderId == order);
        Assert.Equal((true, "Saltmarsh Works"), (row.IsHeld, row.WaitsFor));
        Assert.Equal(0, (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, order, Cancellation))!.Facts.PiecesDone);
        Assert.IsType<CloseWorkOrder.Outcome.Closed>(await close.HandleAsync(scene.Ned, new(order, "not needed any more"), Cancellation));
        // It was made; what becomes of it is still to be decided.
        var book = await new Portal.Features.Nonconformances.ShowNonconformance.Handler(scene.Database).ListAsync(scene.Mara, Cancellation);
        Assert.True(Assert.Single(book, row => row.Number == number).IsPending);

        // The order itself is closed: it takes no report, and nothing is made anew on it.
        var piece = (await scene.PiecesAsync(order))[0];
        var late = new SubmitReport.Request("receiving", [new(piece, [Reports.Flange.Value(scene.CradleBore, 25)])], null, Guid.CreateVersion7());
        Assert.Contains("on a closed order", Assert.IsType<SubmitReport.Outcome.Refused>(
            await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, late, Cancellation)).Why, StringComparison.Ordinal);
        Assert.Equal("FL015", (await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Mara, RawReport, new { id = Guid.CreateVersion7(), piece, stage = "receiving", scene.Mara.OrganisationId, scene.Mara.PersonId }))).SqlState);
        var nonconformance = await scene.AskAsync<Guid>("select id from nonconformance where number = @number", new { number });
        var dispose = new Portal.Features.Nonconformances.DisposeNonconformance.Handler(scene.Database, scene.Clock);
        Assert.Contains("no piece is made anew", Assert.IsType<Portal.Features.Nonconformances.DisposeNonconformance.Outcome.Stale>(
            await dispose.HandleAsync(scene.Mara, new(nonconformance, 1, "remake", "again", null), Cancellation)).Now, StringComparison.Ordinal);
        Assert.IsType<Portal.Features.Nonconformances.DisposeNonconformance.Outcome.Disposed>(await dispose.HandleAsync(scene.Mara, new(nonconformance, 1, "scrap", "bent", null), Cancellation));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where piece_id = @piece and person_id = @PersonId and body like '%order anew%'", new { piece, scene.Ned.PersonId }));
    }

    /// <summary>A film that fails at the coater's own stage is the coater's matter: it reads what was decided, is told, and a scrapped piece leaves its list.</summary>
    [Theory]
    [InlineData("rework", "is to be reworked", true)]
    [InlineData("scrap", "is scrapped", false)]
    public async Task The_coater_learns_what_becomes_of_the_piece_that_failed_at_its_step(string disposition, string headline, bool mayEnd)
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, null)]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        var coat = await scene.StepsAsync(order, "powder coat");
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, coat));
        var submitted = await new Portal.Features.Reports.SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Wren,
            new("after coat", [new(piece, [new(scene.CradleBore, 1, 26m, "mm", "26", null, "", "")])], null, Guid.CreateVersion7()),
            Cancellation);
        Assert.IsType<Portal.Features.Reports.SubmitReport.Outcome.Accepted>(submitted);
        async Task<NextMove> NextAsync(Portal.Platform.People.Actor actor) => (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, piece, Cancellation))!.Next;
        var before = await NextAsync(scene.Wren);
        Assert.Contains("does not conform: stop", before.Headline, StringComparison.Ordinal);
        Assert.Contains("Powder coat may be ended", before.ToDo, StringComparison.Ordinal);
        Assert.Equal(Move.SeeNonconformance, (await NextAsync(scene.Mara)).Move);

        var id = await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @piece", new { piece });
        await new Portal.Features.Nonconformances.DisposeNonconformance.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(id, 1, disposition, "film", null), Cancellation);
        Assert.Contains(headline, (await NextAsync(scene.Wren)).Headline, StringComparison.Ordinal);
        Assert.Equal(1, await scene.AskAsync<long>(
            "select count(*) from notice where piece_id = @piece and kind = 'nonconformance decided' and person_id = @PersonId", new { piece, scene.Wren.PersonId }));
        var steps = await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Wren, Cancellation);
        Assert.Equal(mayEnd, steps.Now.Any(group => group.Items.Any(item => item.PieceId == piece)));
        Assert.Equal(mayEnd, steps.ToMeasure.Any(row => row.PieceId == piece));
        var end = await scene.FinishAsync(scene.Wren, coat);
        if (mayEnd)
            Assert.IsType<FinishStep.Outcome.Finished>(end);
        else
            Assert.Equal("FL015", Assert.IsType<FinishStep.Outcome.Refused>(end).Why.Code);
    }

    [Fact]
    public async Task Two_people_who_ship_the_same_piece_at_once_write_one_slip()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_cut]));
        await scene.DoAsync(scene.Ida, order, "cut");
        var pieces = await scene.PiecesAsync(order);
        var both = await Task.WhenAll(ShipAsync(scene.Ida, order, pieces), ShipAsync(scene.Ned, order, pieces));
        Assert.Single(both.OfType<ShipPieces.Outcome.Shipped>());
        Assert.Single(both.OfType<ShipPieces.Outcome.AlreadyShipped>());
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from packing_slip where work_order_id = @order", new { order }));
    }

    [Fact]
    public async Task A_held_piece_leaves_on_no_slip_by_raw_sql_either()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [_weldHeld]));
        await scene.DoAsync(scene.Ida, order, "weld");
        const string Forge = """
            with slip as (insert into packing_slip (id, work_order_id, number, shipped_at, shipped_by) values (gen_random_uuid(), @order, 'PS-X', now(), @Person) returning id)
            insert into packing_slip_piece select id, @Piece, @order from slip
            """;
        var piece = Assert.Single(await scene.PiecesAsync(order));
        var refused = await Assert.ThrowsAsync<PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { order, Piece = piece, Person = scene.Ida.PersonId }));
        Assert.Equal("FL003", refused.SqlState);
    }

    private Task<OpenGate.Outcome> OpenAsync(Actor actor, Guid[] steps) =>
        new OpenGate.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(steps, "looked at every weld"), Cancellation);

    private Task<AskWitness.Outcome> InviteAsync(Actor actor, Guid[] steps) =>
        new AskWitness.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(steps), Cancellation);

    private Task<ShipPieces.Outcome> ShipAsync(Actor actor, Guid order, IReadOnlyList<Guid> pieces) =>
        new ShipPieces.Handler(scene.Database, scene.Clock).HandleAsync(actor, new(order, pieces, "two crates"), Cancellation);

    private async Task<string> NonconformAsync(Guid order, string stage, Guid? of = null)
    {
        var piece = of ?? (await scene.PiecesAsync(order))[0];
        var report = await scene.ReportAsync(piece, stage, "does not conform");
        const string Sql = """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by)
            select gen_random_uuid(), owner_id, work_order_id, id, @report, @stage, 'NC-' || right(id::text, 6), now(), @Person from piece where id = @piece returning number
            """;
        return (await scene.AskAsync<string>(Sql, new { report, stage, piece, Person = scene.Ida.PersonId }))!;
    }
}
