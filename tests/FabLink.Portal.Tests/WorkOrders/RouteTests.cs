using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;

namespace FabLink.Portal.Tests.WorkOrders;

/// <summary>What is said of a step, a piece and an order, from facts alone.</summary>
public sealed class RouteTests
{
    private static readonly Guid _shop = Guid.NewGuid();
    private static readonly Guid _owner = Guid.NewGuid();
    private static readonly DateTimeOffset _at = new(2026, 11, 24, 9, 40, 0, TimeSpan.Zero);

    [Theory]
    [InlineData(false, false, "none", false, false, StepState.Planned)]
    [InlineData(true, false, "none", false, false, StepState.InWork)]
    [InlineData(true, false, "none", false, true, StepState.AtOutsideProcess)]
    [InlineData(true, true, "none", false, false, StepState.Finished)]
    [InlineData(true, true, "hold", false, false, StepState.Held)]
    [InlineData(true, true, "hold", true, false, StepState.Finished)]
    [InlineData(true, true, "witness", false, false, StepState.WaitingForWitness)]
    [InlineData(true, true, "witness", true, false, StepState.Finished)]
    [InlineData(true, false, "hold", true, false, StepState.InWork)]
    public void A_step_is_what_was_said_of_it(bool started, bool finished, string gate, bool opened, bool outside, StepState state) =>
        Assert.Equal(state, Step(1, started, finished, gate, opened, outside).State);

    [Fact]
    public void A_piece_is_at_the_first_step_that_does_not_let_it_go_on()
    {
        var held = Step(2, true, true, "hold");
        var route = new PieceRoute([Step(1, true, true), held, Step(3)], null);
        Assert.Equal(held, route.Current);
        Assert.Equal(PieceStop.NamedRelease, route.Stop);
        Assert.Equal(_owner, route.TurnOf(_owner));
        Assert.False(route.MayStart(route.Steps[2]));
    }

    [Fact]
    public void A_witness_is_invited_by_who_does_the_step_and_comes_from_the_build_shop()
    {
        var done = Step(1, true, true, "witness");
        Assert.Equal(_shop, new PieceRoute([done], null).TurnOf(_owner));
        Assert.Equal(_owner, new PieceRoute([done with { AskedAt = _at }], null).TurnOf(_owner));
    }

    [Fact]
    public void An_open_nonconformance_keeps_the_next_step_from_starting_but_not_the_one_in_work_from_ending()
    {
        var planned = new PieceRoute([Step(1)], "NC-0001");
        Assert.Equal(PieceStop.Nonconformance, planned.Stop);
        Assert.False(planned.MayStart(planned.Steps[0]));
        Assert.Null(new PieceRoute([Step(1, started: true)], "NC-0001").Stop);
        var free = new PieceRoute([Step(1)], null);
        Assert.True(free.MayStart(free.Steps[0]));
    }

    [Fact]
    public void Of_two_pieces_at_one_step_the_one_that_is_stopped_is_behind()
    {
        PieceRoute Planned(string? number) => new([Step(1, started: true, finished: true), Step(2)], number);
        Assert.True(Planned("NC-0001").Progress.CompareTo(Planned(null).Progress) < 0);
        Assert.True(Planned(null).Progress.CompareTo(new PieceRoute([Step(1, started: true, finished: true), Step(2, started: true)], null).Progress) < 0);
    }

    [Fact]
    public void A_route_whose_last_step_is_done_has_no_turn_left()
    {
        var route = new PieceRoute([Step(1, true, true)], null);
        Assert.True(route.Done);
        Assert.Null(route.TurnOf(_owner));
    }

    [Theory]
    [InlineData("RH-140-001 to RH-140-004", "RH-140-003", "RH-140-001", "RH-140-002", "RH-140-004")]
    [InlineData("RH-140-001, RH-140-002 and RH-140-004", "RH-140-001", "RH-140-002", "RH-140-004")]
    [InlineData("RH-140-001 and RH-140-002", "RH-140-002", "RH-140-001")]
    [InlineData("RH-140-001, RH-150-002 and RH-150-003", "RH-140-001", "RH-150-002", "RH-150-003")]
    [InlineData("RH-140-001", "RH-140-001")]
    public void Serials_are_said_in_few_words(string words, params string[] serials) => Assert.Equal(words, Serials.Words(serials));

    [Fact]
    public void An_order_says_whose_turn_it_is()
    {
        var draft = new OrderFacts(Guid.NewGuid(), "WO-0001", _owner, "Saltmarsh Works", _shop, "Holm Lane", "", null, null, null, null, null, null, 1, 1, 0, 0, 0, 0, 0, new(2026, 12, 3), 0);
        var today = new DateOnly(2026, 11, 24);
        Turn Of(OrderFacts facts) => OrderStanding.Of(facts, today).Turn;

        Assert.Equal(Turn.BuildShop, Of(draft));
        var issued = draft with { IssuedAt = _at, Pieces = 1 };
        Assert.Equal(Turn.Shop, Of(issued));
        Assert.Equal(Turn.BuildShop, Of(issued with { DeclinedAt = _at, DeclineReason = "no plate" }));
        var accepted = issued with { AcceptedAt = _at };
        Assert.Contains("promise date", OrderStanding.Of(accepted, today).ToDo, StringComparison.Ordinal);
        var asked = OrderStanding.Of(accepted with { WaitingSince = _at }, today);
        Assert.Equal((Turn.BuildShop, (DateTimeOffset?)_at), (asked.Turn, asked.Since));
        var promised = accepted with { LinesWithoutPromise = 0 };
        Assert.Equal(Turn.Shop, Of(promised));
        Assert.Equal(("Nothing is started yet", "Holm Lane starts the piece."), (OrderStanding.Of(promised, today).Headline, OrderStanding.Of(promised, today).ToDo));
        Assert.Equal("In work: 0 of 1 through the route", OrderStanding.Of(promised with { PiecesBegun = 1 }, today).Headline);
        Assert.Equal(Turn.BuildShop, Of(promised with { PiecesForRelease = 1 }));
        Assert.Equal(Turn.Shop, Of(promised with { PiecesForReport = 1 }));
        Assert.Equal(Turn.BuildShop, Of(promised with { PiecesNotConforming = 1, PiecesForReport = 1 }));
        Assert.Equal(Turn.BuildShop, Of(promised with { PiecesDone = 1 }));
        Assert.Equal(Turn.Nobody, Of(promised with { ClosedAt = _at }));

        // Through without a promise is through; what was scrapped is missing.
        Assert.Contains("through its route", OrderStanding.Of(accepted with { PiecesDone = 1 }, today).Headline, StringComparison.Ordinal);
        Assert.Contains("1 piece was scrapped", OrderStanding.Of(promised with { PiecesDone = 1, PiecesScrapped = 1 }, today).ToDo, StringComparison.Ordinal);
        Assert.EndsWith("gone. Nothing more of it starts.", OrderStanding.Of(promised with { ClosedAt = _at, CloseReason = "The customer is gone" }, today).ToDo, StringComparison.Ordinal);
    }

    [Fact]
    public void A_draft_says_when_nothing_waits_for_the_report_of_its_last_step()
    {
        var line = new DraftChecks.LineFacts(Guid.NewGuid(), 1, "RH-140 A", new(2026, 12, 3), 1, MaySample: false, Sampled: false);
        IReadOnlyList<string> Remarks(string gate) => DraftChecks.Of(
            new DraftChecks.Draft([line], [new(line.Id, 1, "powder coat", "Teal", "after coat", gate, gate == "hold" ? "report" : null, null, 5)], [new(line.Id, "after coat", 1)]), new(2026, 11, 24));
        Assert.Contains("nothing waits for its report at stage after coat", Assert.Single(Remarks("none")), StringComparison.Ordinal);
        Assert.Empty(Remarks("hold"));
        Assert.Contains("orders RH-140 A, and revision B", Assert.Single(DraftChecks.Of(new DraftChecks.Draft([line with { NewerRevision = "B" }], [], []), new(2026, 11, 24))), StringComparison.Ordinal);

        IReadOnlyList<string> Between(string later) => DraftChecks.Of(
            new DraftChecks.Draft(
                [line],
                [new(line.Id, 1, "weld", "Holm Lane", "as welded", "none", null, null, 2), new(line.Id, 2, "inspect", "Holm Lane", later, "hold", "report", null, 1)],
                [new(line.Id, "as welded", 1), new(line.Id, "before coat", 1)]), new(2026, 11, 24));
        Assert.StartsWith("Line 1, step 1 (weld): nothing waits for its report at stage as welded", Assert.Single(Between("before coat")), StringComparison.Ordinal);
        Assert.DoesNotContain(Between("as welded"), remark => remark.Contains("nothing waits", StringComparison.Ordinal));
    }

    [Fact]
    public void An_order_is_late_after_its_need_date_or_when_promised_after_it_and_never_once_all_pieces_are_through()
    {
        var order = new OrderFacts(
            Guid.NewGuid(), "WO-0001", _owner, "Saltmarsh Works", _shop, "Holm Lane", "", _at, _at, null, null, null, null, 1, 0, 2, 1, 0, 0, 0, new(2026, 12, 3), 0);
        Assert.False(OrderStanding.Of(order, new(2026, 12, 3)).Late);
        Assert.True(OrderStanding.Of(order, new(2026, 12, 4)).Late);
        Assert.True(OrderStanding.Of(order with { DaysPromisedLate = 1 }, new(2026, 11, 24)).Late);
        Assert.False(OrderStanding.Of(order with { PiecesDone = 2, NextNeed = null }, new(2026, 12, 4)).Late);
    }

    [Fact]
    public void What_is_not_shown_is_named_by_its_stages()
    {
        string? Words(params string[] stages) => new PieceRoute([Step(1)], null) { NotShown = stages }.NotShownWords;
        Assert.Null(Words());
        Assert.Equal("not shown to conform at tack", Words("tack"));
        Assert.Equal("not shown to conform at tack, before coat and after coat", Words("tack", "before coat", "after coat"));
    }

    [Fact]
    public void What_is_reworked_is_the_turn_of_whoever_made_what_failed()
    {
        var coater = Guid.NewGuid();
        var coat = Step(2, started: true, finished: true) with { Stage = "after coat", OrganisationId = coater };
        var route = new PieceRoute([Step(1, started: true, finished: true), coat, Step(3, started: true, finished: true) with { Kind = "receive", OrganisationId = _owner }], "NC-0001", Decided: "rework", FailedStage: "after coat");
        Assert.Equal(coater, route.TurnOf(_owner));
        Assert.Equal(_owner, (route with { Decided = null }).TurnOf(_owner));
        Assert.Equal(_owner, (route with { FailedStage = "receiving" }).TurnOf(_owner));
    }

    /// <summary>Where the coater has the piece, what failed elsewhere is not the coater's to measure.</summary>
    [Fact]
    public void Nor_is_it_the_turn_of_a_shop_that_may_not_measure_there()
    {
        var coat = Step(2, started: true) with { OrganisationId = Guid.NewGuid() };
        var receive = Step(3) with { Stage = "receiving", OrganisationId = _owner };
        var route = new PieceRoute([Step(1, started: true, finished: true), coat, receive], "NC-0001", Decided: "rework", FailedStage: "as machined");
        Assert.Equal(_shop, route.TurnOf(_owner, _shop));
        Assert.Equal(_owner, (route with { FailedStage = "receiving" }).TurnOf(_owner, _shop));
    }

    [Fact]
    public void The_route_of_a_piece_that_is_over_promises_nothing()
    {
        string Under(string? ended)
        {
            var piece = new PieceOnRoute(
                Guid.Empty, "RH-140-001", _owner, Guid.Empty, Guid.Empty, "RH-140", "bracket", Guid.Empty, "A", null,
                new PieceRoute([Step(1, started: true, finished: true, gate: "hold"), Step(2, started: true, outside: true), Step(3)], null, Ended: ended));
            return string.Join("; ", RoutePicture.Of(piece).Steps.Select(step => step.Under));
        }

        Assert.Contains("held since", Under(null), StringComparison.Ordinal);
        Assert.Contains("1 day planned", Under(null), StringComparison.Ordinal);
        foreach (var promise in new[] { "held", "planned", " since " })
            Assert.DoesNotContain(promise, Under("cancelled"), StringComparison.Ordinal);
        Assert.EndsWith("not finished; not done", Under("cancelled"), StringComparison.Ordinal);
    }

    private static StepFacts Step(int ordinal, bool started = false, bool finished = false, string gate = "none", bool opened = false, bool outside = false) => new(
        Guid.NewGuid(), Guid.Empty, ordinal, "weld", _shop, "Holm Lane", outside, null, gate, gate == "hold" ? "person" : null, gate == "witness" ? 24 : null, 1,
        started ? _at : null, finished ? _at : null, null, opened ? _at : null, opened ? "person" : null);
}
