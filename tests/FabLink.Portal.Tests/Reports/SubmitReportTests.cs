using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Reports;

public sealed class SubmitReportTests(Scene scene) : IClassFixture<Scene>
{
    private const string OpenNonconformances = "select count(*) from nonconformance where piece_id = @Piece and closed_at is null";

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_conforming_report_opens_the_hold_a_failing_one_shuts_it_and_measuring_one_value_again_opens_it_once_more()
    {
        var flange = await Flange.TackedAsync(scene);
        Assert.Equal("FL003", await flange.HeldAsync());

        Assert.Equal("conforms", (await flange.MeasuredAsync(flange.Good())).Verdict);
        Assert.Null(await flange.HeldAsync());

        Assert.Equal("does not conform", (await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.8m, 7))).Verdict);
        Assert.NotNull(await flange.HeldAsync());
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from nonconformance where piece_id = @Piece and closed_at is null"));

        // The newest value of 12.7 stands, with the other nine from the first report.
        var healed = await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7));
        Assert.Equal("conforms", healed.Verdict);
        Assert.Null(await flange.HeldAsync());
        Assert.Equal(healed.ReportId, await flange.OfPieceAsync<Guid>("select closed_by_report_id from nonconformance where piece_id = @Piece"));
        Assert.Equal(3, await flange.OfPieceAsync<long>("select count(*) from report where piece_id = @Piece"));
    }

    [Fact]
    public async Task A_report_that_misses_one_of_ten_holes_is_incomplete_and_opens_nothing()
    {
        var flange = await Flange.TackedAsync(scene);
        var taken = await flange.MeasuredAsync([.. flange.Good().Where(value => value.CharacteristicId != flange.Holes || value.Instance != 10)]);

        Assert.Equal("incomplete", taken.Verdict);
        Assert.Equal("12.10", await flange.OfPieceAsync<string>("select array_to_string(missing, ' ') from report where piece_id = @Piece"));
        Assert.Equal("FL003", await flange.HeldAsync());

        Assert.Equal("conforms", (await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.5m, 10))).Verdict);
        Assert.Null(await flange.HeldAsync());
    }

    [Fact]
    public async Task What_fails_goes_before_what_is_missing_and_that_before_what_is_not_proven()
    {
        var flange = await Flange.TackedAsync(scene);
        var unproven = Flange.Value(flange.Length, 120.48m, uncertainty: 0.05m);

        Assert.Equal("incomplete", (await flange.MeasuredAsync(unproven)).Verdict);
        Assert.Equal("does not conform", (await flange.MeasuredAsync(Flange.Value(flange.Hand, 0))).Verdict);
        Assert.Equal("not proven", (await flange.MeasuredAsync(flange.Good(unproven))).Verdict);
        Assert.Equal("FL003", await flange.HeldAsync());
    }

    // ISO 2692: Ø13.5 ±0.2 has its maximum material at 13.3; a hole of 13.5 adds 0.2 to the position's 0.75.
    [Theory]
    [InlineData("0.95", "conforms", "0.2")]
    [InlineData("0.950001", "does not conform", "0.2")]
    public async Task A_position_is_held_against_its_tolerance_and_the_bonus_of_the_measured_hole(string position, string verdict, string bonus)
    {
        var flange = await Flange.TackedAsync(scene, withPosition: true);
        var positions = Enumerable.Range(1, 10).Select(n => Flange.Value(flange.Position, n == 4 ? decimal.Parse(position, System.Globalization.CultureInfo.InvariantCulture) : 0.5m, n));

        Assert.Equal(verdict, (await flange.MeasuredAsync([.. flange.Good(), .. positions])).Verdict);
        Assert.Equal(decimal.Parse(bonus, System.Globalization.CultureInfo.InvariantCulture), await flange.OfPieceAsync<decimal>(
            "select v.bonus from measured_value v join report r on r.id = v.report_id join characteristic c on c.id = v.characteristic_id where r.piece_id = @Piece and v.instance = 4 and c.kind = 'position'"));
    }

    [Fact]
    public async Task A_position_whose_hole_is_not_measured_is_not_proven_and_says_so()
    {
        var flange = await Flange.TackedAsync(scene, withPosition: true);
        var taken = await flange.MeasuredAsync(Flange.Value(flange.Position, 0.9m, 4));
        var sheet = await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, taken.ReportId, Cancellation);
        var line = Assert.Single(sheet!.Lines);

        Assert.Equal("incomplete", taken.Verdict);
        Assert.Equal("not proven", line.Verdict);
        Assert.Equal("the size, balloon 12, is not measured, so its bonus is not known: measure it", line.BonusText);
    }

    // 0.85 ±0.01 against 0.75 + 0.15 is clear of its limit by itself: what is not known is the size that gives the bonus.
    [Theory]
    [InlineData("0.85", "0.15", true)]
    [InlineData("0.8", "0", true)]
    [InlineData("0.895", "0.15", false)]
    public void A_position_that_only_its_size_leaves_unproven_says_so(string value, string bonus, bool bySize)
    {
        static decimal Of(string text) => decimal.Parse(text, System.Globalization.CultureInfo.InvariantCulture);
        var line = new ShowReport.Line(
            13, 10, 4, "", "position", "⌖ Ø0.75 Ⓜ (hole 12)", "mm", null, 0.75m, "stated", "major", "before coating", "guarded", Of(value), value, "mm", 0.01m, "", "", "not proven", null, 12, Of(bonus));
        Assert.Equal(bySize, line.BonusText!.StartsWith("the size, balloon 12, came without an uncertainty", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_hole_measured_later_judges_its_position_again()
    {
        var flange = await Flange.TackedAsync(scene, withPosition: true);
        await flange.MeasuredAsync([.. Enumerable.Range(1, 10).Select(n => Flange.Value(flange.Position, n == 4 ? 0.9m : 0.5m, n))]);
        const string Standing = "select standing_verdict(@Piece, 'tack')";
        Assert.Equal("incomplete", await flange.OfPieceAsync<string>(Standing));

        // Holes of 13.5 are 0.2 over their least size: 0.95 is allowed, the record says so, and the gate opens.
        var whole = await flange.MeasuredAsync(flange.Good());
        Assert.Equal("conforms", whole.Verdict);
        Assert.Equal("conforms", await flange.OfPieceAsync<string>(Standing));
        var sheet = await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, whole.ReportId, Cancellation);
        var again = Assert.Single(sheet!.Lines, line => line is { Kind: "position", Instance: 4 });
        Assert.Equal((0.9m, 0.2m, "measured before; judged again with the size of this report"), (again.Value, again.Bonus, again.Note));

        // The same hole at its least size has no bonus to give.
        Assert.Equal("does not conform", (await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.3m, 4))).Verdict);
        Assert.Equal("does not conform", await flange.OfPieceAsync<string>(Standing));
    }

    [Theory]
    [InlineData("13.7", "conforms")]
    [InlineData("13.70000000000000000001", "does not conform")]
    [InlineData("13.3", "conforms")]
    [InlineData("13.29999999999999999999", "does not conform")]
    public async Task A_value_exactly_on_its_limit_conforms_and_the_next_digit_does_not(string value, string verdict)
    {
        var flange = await Flange.TackedAsync(scene);

        Assert.Equal(verdict, (await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Holes, decimal.Parse(value, System.Globalization.CultureInfo.InvariantCulture), 3)))).Verdict);
        Assert.Equal(decimal.Parse(value, System.Globalization.CultureInfo.InvariantCulture), await flange.OfPieceAsync<decimal>(
            "select v.value from measured_value v join report r on r.id = v.report_id where r.piece_id = @Piece and v.instance = 3"));
    }

    [Fact]
    public async Task The_same_file_again_shows_the_first_result_and_two_at_once_are_one()
    {
        var flange = await Flange.TackedAsync(scene);
        var sha = Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(flange.Piece.ToByteArray()));
        var both = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => flange.SubmitAsync(scene.Ida, flange.Good(), sha: sha)));
        var again = Assert.IsType<SubmitReport.Outcome.Accepted>(await flange.SubmitAsync(scene.Ida, flange.Good(Flange.Value(flange.Hand, 0)), sha: sha));

        var reports = both.Append(again).Select(outcome => Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports)).ToList();
        Assert.Single(reports.Select(report => report.ReportId).Distinct());
        Assert.Single(reports, report => !report.Before);
        Assert.All(reports, report => Assert.Equal("conforms", report.Verdict));
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from report where piece_id = @Piece"));
        Assert.Equal(13, await flange.OfPieceAsync<long>("select count(*) from measured_value v join report r on r.id = v.report_id where r.piece_id = @Piece"));
    }

    [Fact]
    public async Task The_button_pressed_twice_is_pressed_once()
    {
        var flange = await Flange.TackedAsync(scene);
        var key = Guid.CreateVersion7();
        var both = await Task.WhenAll(Enumerable.Range(0, 3).Select(_ => flange.SubmitAsync(scene.Ida, flange.Good(Flange.Value(flange.Hand, 0)), key)));

        Assert.Single(both.Select(outcome => Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports[0].ReportId).Distinct());
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from nonconformance where piece_id = @Piece"));
        // The engineer and the buyer of the build shop, and the fabricator: once each.
        Assert.Equal(3, await flange.OfPieceAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'report failed'"));
        Assert.Equal(3, await flange.OfPieceAsync<long>("select count(*) from outbox x join notice n on n.id = x.subject_id where n.piece_id = @Piece and n.kind = 'report failed'"));
    }

    /// <summary>The verdict is over all that stands: what another report left is named with it.</summary>
    [Fact]
    public async Task A_report_names_what_earlier_ones_left_unproven()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m)));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var taken = await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7));
        Assert.Equal("not proven", taken.Verdict);
        var sheet = (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, taken.ReportId, Cancellation))!;
        var other = Assert.Single(sheet.Others);
        Assert.Equal(("120.47", "not proven"), (other.Typed, other.Verdict));
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        Assert.Equal(taken.ReportId, page.Undecided?.Id);
        var correction = (await new Portal.Features.Joints.ShowCorrection.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        Assert.Single(correction.Dimensions, one => one.Verdict == "not proven" && !one.IsToBeStated);
        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.1m));
        correction = (await new Portal.Features.Joints.ShowCorrection.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        Assert.Equal(("state its uncertainty", true), (Assert.Single(correction.Dimensions).ToMiddle, correction.Dimensions[0].IsToBeStated));
    }

    /// <summary>A concession covers what it was granted for: what comes later is judged by itself, and what was conceded is not held against it.</summary>
    [Fact]
    public async Task A_concession_covers_the_values_it_was_given_for_and_no_later_one()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is"));
        Assert.Null(await flange.HeldAsync());

        // Another value, good: nothing is opened, nobody is told, the piece may go on.
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var good = await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7));
        Assert.Equal("does not conform", good.Verdict);
        Assert.Equal(0, await flange.OfPieceAsync<long>(OpenNonconformances));
        Assert.Equal(3, await flange.OfPieceAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'report failed'"));
        Assert.Null(await flange.HeldAsync());
        var sheet = (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, good.ReportId, Cancellation))!;
        Assert.NotNull(sheet.Report.ReleasedAt);
        Assert.Equal((scene.Mara.Name, "It carries nothing."), (Assert.Single(sheet.Others).ConcededBy, sheet.Others[0].ConcededReason));

        // The conceded one measured anew, not proven: that nobody has conceded. The engineer is told, and what proves it opens the hold beside the concession.
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m));
        Assert.Equal("FL003", await flange.HeldAsync());
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'report not proven'"));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.1m, uncertainty: 0.05m));
        Assert.Null(await flange.HeldAsync());

        // It opened, shut and opened again, and its history says so.
        var history = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!.History.Select(each => each.What).ToList();
        Assert.Single(history, what => what.StartsWith("hold after fit and tack released by concession", StringComparison.Ordinal));
        Assert.Single(history, what => what == "gate after fit and tack shut again by a later report");
        Assert.Single(history, what => what == "hold after fit and tack opened by a conforming report");
    }

    [Fact]
    public async Task A_nonconformance_beside_a_conceded_one_lists_what_is_new()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is"));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.6m, 7));
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, flange.Piece, Cancellation))!;
        var open = Assert.Single(page.Nonconformances, each => each.ClosedAt is null);
        var nonconformance = (await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Mara, open.Id, Cancellation))!;
        Assert.Equal(7, Assert.Single(nonconformance.Values).Instance);
    }

    /// <summary>Not proven and conceded, a later critical value that is not proven either holds the piece anew; a value that fails opens a nonconformance that names it.</summary>
    [Fact]
    public async Task What_fails_beside_a_concession_is_named_alone()
    {
        var flange = await Flange.TackedAsync(scene);
        var first = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m)));
        var concede = new GrantConcession.Handler(scene.Database, scene.Clock);
        Assert.IsType<GrantConcession.Outcome.Granted>(await concede.HandleAsync(scene.Mara, new(first.ReportId, "Edge only.", null), Cancellation));
        Assert.Null(await flange.HeldAsync());
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.6m, 7));
        Assert.Equal("FL003", await flange.HeldAsync());
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, flange.Piece, Cancellation))!;
        var nonconformance = (await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Mara, Assert.Single(page.Nonconformances).Id, Cancellation))!;
        Assert.Equal(7, Assert.Single(nonconformance.Values).Instance);
        // The older report was looked at by whoever would concede it now.
        var late = Assert.IsType<GrantConcession.Outcome.Refused>(await concede.HandleAsync(scene.Mara, new(first.ReportId, "Edge only.", null), Cancellation));
        Assert.Contains("later report", late.Why, StringComparison.Ordinal);

        // Made good, only what is conceded is left: the nonconformance heals and the hold opens.
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal("not proven", (await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7))).Verdict);
        Assert.Equal(0, await flange.OfPieceAsync<long>(OpenNonconformances));
        Assert.Null(await flange.HeldAsync());
    }

    /// <summary>Whoever decides sees what a concession would cover: what fails, whichever report brought it, what is not proven and what was never measured.</summary>
    [Fact]
    public async Task A_decision_is_about_everything_that_is_not_shown_to_conform()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync([.. flange.Good(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m), Flange.Value(flange.Holes, 14.6m, 7)).Where(value => value.CharacteristicId != flange.Minor)]);
        var seen = await ShownAsync(flange);
        Assert.Equal(["1 not proven 120.47 mm ", "12.7 does not conform 14.6 mm ", "20 not measured  "], seen.Values.Select(Told));

        // Another hole fails with a later report of the same nonconformance; the first is good again.
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.5m, 7), Flange.Value(flange.Holes, 14.4m, 3));
        var late = Assert.IsType<DisposeNonconformance.Outcome.Stale>(await flange.DisposeAsync(scene.Mara, "use as is", seen: seen.Seen));
        Assert.Contains("a later report", late.Now, StringComparison.Ordinal);
        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from concession_piece where piece_id = @Piece"));
        var now = await ShownAsync(flange);
        Assert.Equal(["1 not proven 120.47 mm ", "12.3 does not conform 14.4 mm ", "12.7 conforms 14.6 mm 13.5 mm", "20 not measured  "], now.Values.Select(Told));

        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", seen: now.Seen));
        Assert.Null(await flange.HeldAsync());
        // What was covered stays on the page.
        Assert.Equal(now.Values.Select(Told), (await ShownAsync(flange)).Values.Select(Told));

        static string Told(ShowNonconformance.OpenValue value) => $"{value.BalloonText} {value.Stands} {value.Found} {value.Since}";
    }

    private async Task<ShowNonconformance.Page> ShownAsync(Flange flange) => (await new ShowNonconformance.Handler(scene.Database).HandleAsync(
        scene.Mara, await flange.OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece order by opened_at desc limit 1"), Cancellation))!;

    /// <summary>The shop makes good what failed beside a value that is conceded and fails: its nonconformance closes by the shop's own report.</summary>
    [Fact]
    public async Task What_fails_beside_a_conceded_failure_is_made_good_by_the_shop()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is"));
        var second = await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.6m, 7));
        Assert.Equal(1, await flange.OfPieceAsync<long>(OpenNonconformances));
        // The concession was there before; it does not speak for what this report brought.
        Assert.Null((await ReportAsync(second.ReportId)).ReleasedAt);
        var good = await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.5m, 7));
        Assert.Equal("does not conform", good.Verdict);
        Assert.Equal(0, await flange.OfPieceAsync<long>(OpenNonconformances));
        Assert.Null(await flange.HeldAsync());
        Assert.NotNull((await ReportAsync(good.ReportId)).ReleasedAt);
        Assert.Null((await ReportAsync(second.ReportId)).ReleasedAt);
        // Past the page as well: no report closes what fails still.
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.6m, 7));
        const string Forge = """
            update nonconformance set closed_at = now(), closed_by = @PersonId, disposition = 'rework', disposed_at = now(), disposed_by = @PersonId,
                   closed_by_report_id = (select id from report where piece_id = @Piece order by submitted_at desc limit 1)
            where piece_id = @Piece and closed_at is null
            """;
        Assert.Equal("FL009", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { flange.Piece, scene.Ida.PersonId }))).SqlState);
    }

    private async Task<ShowReport.Head> ReportAsync(Guid id) => (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, id, Cancellation))!.Report;

    [Fact]
    public async Task A_report_is_released_by_the_concession_that_came_for_it()
    {
        var flange = await Flange.TackedAsync(scene);
        var first = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", reason: "The length is free."));
        var second = await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.6m, 7));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", reason: "A washer covers it."));
        Assert.Equal(("The length is free.", "A washer covers it."), ((await ReportAsync(first.ReportId)).ReleasedReason, (await ReportAsync(second.ReportId)).ReleasedReason));
        var other = Assert.Single((await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, second.ReportId, Cancellation))!.Others);
        Assert.Equal("The length is free.", other.ConcededReason);
    }

    [Fact]
    public async Task The_first_decision_stays_on_record_beside_the_second()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Holes, 14.6m, 7)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "repair", reason: "Bush hole 7."));
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 14.2m, 7));
        var nonconformance = (await ShownAsync(flange)).Nonconformance.Id;
        var list = await new ShowNonconformance.Handler(scene.Database).ListAsync(scene.Mara, Cancellation);
        Assert.Equal("repair, and it failed again: to be decided anew", list.Single(row => row.Id == nonconformance).Decided);
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", rowVersion: 2, reason: "The bush carries."));
        Assert.Equal(("repair", "Bush hole 7."), (Assert.Single((await ShownAsync(flange)).Before).Disposition, (await ShownAsync(flange)).Before[0].Reason));
        var history = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, flange.Piece, Cancellation))!.History.Select(each => each.What).ToList();
        Assert.Contains(history, what => what.EndsWith(": repair. Bush hole 7.", StringComparison.Ordinal));
        Assert.Contains(history, what => what.EndsWith(": use as is. The bush carries.", StringComparison.Ordinal));
    }

    [Fact]
    public async Task What_no_page_would_send_is_refused_and_writes_nothing()
    {
        var flange = await Flange.TackedAsync(scene);
        foreach (var wrong in new[]
                 {
                     Flange.Value(Guid.CreateVersion7(), 1), Flange.Value(scene.CradleBore, 25), Flange.Value(flange.Holes, 13.5m, 0), Flange.Value(flange.Holes, 13.5m, 11), Flange.Value(flange.Holes, null),
                     Flange.Value(flange.Hand, 2), Flange.Value(flange.Holes, -13.5m, 7), Flange.Value(flange.Length, 120, uncertainty: -1),
                 })
            Assert.IsType<SubmitReport.Outcome.Refused>(await flange.SubmitAsync(scene.Ida, [wrong]));
        Assert.IsType<SubmitReport.Outcome.Refused>(await flange.SubmitAsync(scene.Ida, [Flange.Value(flange.Length, 120), Flange.Value(flange.Length, 121)]));
        Assert.IsType<SubmitReport.Outcome.Refused>(await flange.SubmitAsync(scene.Ida, flange.Good(), stage: "installed"));
        Assert.IsType<SubmitReport.Outcome.NotFound>(await flange.SubmitAsync(scene.Tom, flange.Good()));
        Assert.IsType<SubmitReport.Outcome.Refused>(await flange.SubmitAsync(scene.Wren, flange.Good()));

        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from report where piece_id = @Piece"));
        Assert.Equal("FL003", await flange.HeldAsync());
    }

    // 120 ±0.5, guarded with U 0.05: 120.47 lies nearer to its limit than U (ISO 14253-1), 120.1 does not.
    [Fact]
    public async Task What_failed_is_healed_by_a_conforming_value_and_not_by_one_that_proves_nothing()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.Equal(1, await flange.OfPieceAsync<long>(OpenNonconformances));
        async Task<(string? Since, string Stands)> AgainAsync()
        {
            var id = await flange.OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece");
            var value = Assert.Single((await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Mara, id, Cancellation))!.Values);
            Assert.Equal("121 mm", value.Found);
            return (value.Since, value.Stands);
        }

        Assert.Equal((null, "does not conform"), await AgainAsync());
        Assert.Equal("not proven", (await flange.MeasuredAsync(Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m))).Verdict);
        Assert.Equal(("120.47 mm", "not proven"), await AgainAsync());
        Assert.Equal(1, await flange.OfPieceAsync<long>(OpenNonconformances));
        const string Forge = """
            update nonconformance set closed_at = now(), closed_by = @PersonId, disposition = 'rework', disposed_at = now(), disposed_by = @PersonId,
                   closed_by_report_id = (select id from report where piece_id = @Piece order by submitted_at desc limit 1)
            where piece_id = @Piece
            """;
        var refused = await Assert.ThrowsAsync<Npgsql.PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { flange.Piece, scene.Ida.PersonId }));
        Assert.Equal("FL009", refused.SqlState);
        Assert.Equal("conforms", (await flange.MeasuredAsync(Flange.Value(flange.Length, 120.1m, uncertainty: 0.05m))).Verdict);
        Assert.Equal(0, await flange.OfPieceAsync<long>(OpenNonconformances));
        // The engineer and the buyer were told that it failed; they are told that nothing is left to decide.
        Assert.Equal(2, await flange.OfPieceAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'nonconformance closed' and subject like '%is closed'"));
    }

    [Theory]
    [InlineData("scrap", "it is scrapped")]
    [InlineData("remake", "it is made anew")]
    public async Task A_piece_that_is_given_up_takes_no_report_and_stays_stopped(string disposition, string why)
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, disposition));
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var refused = Assert.IsType<SubmitReport.Outcome.Refused>(await flange.SubmitAsync(scene.Ida, flange.Good()));
        Assert.Contains(why, refused.Why, StringComparison.Ordinal);
        Assert.Equal(1, await flange.OfPieceAsync<long>(OpenNonconformances));
        Assert.NotNull(await flange.HeldAsync());

        // A piece that is made anew has a successor on its line, from the first step on; the order waits for that one only.
        var page = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, flange.Order, Cancellation))!;
        Assert.Equal(disposition == "remake" ? 2 : 1, page.Pieces.Count);
        Assert.Equal((page.Pieces.Count - 1, 0), (page.Facts.Pieces, page.Facts.PiecesDone));
        Assert.Equal(0, page.Facts.PiecesNotConforming);
        var old = page.Pieces.Single(piece => piece.Id == flange.Piece);
        Assert.Equal(disposition, old.Route.Ended);
        Assert.Null(old.Route.TurnOf(scene.Saltmarsh));
        foreach (var anew in page.Pieces.Where(piece => piece.Id != flange.Piece))
        {
            Assert.Equal(7, anew.Route.Steps.Count);
            Assert.True(anew.Route.MayStart(anew.Route.Steps[0]));
            // The fabricator, and the buyer.
            Assert.Equal(2, await scene.AskAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'nonconformance decided' and body like '%' || @Serial || ' takes its place%'", new { flange.Piece, anew.Serial }));
        }

        // Each names the other, and the nonconformance the new one.
        var given = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        var successor = page.Pieces.SingleOrDefault(piece => piece.Id != flange.Piece);
        Assert.Equal((null, successor?.Id), (given.Place.BeforeId, given.Place.AfterId));
        Assert.Equal(successor?.Serial, (await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Ida, given.Nonconformances[0].Id, Cancellation))!.Nonconformance.After);
        if (successor is not null)
        {
            var fresh = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, successor.Id, Cancellation))!;
            Assert.Equal(((Guid?)flange.Piece, old.Serial), (fresh.Place.BeforeId, fresh.Place.Before));
            Assert.Equal(scene.Mara.Name, Assert.Single(fresh.History, each => each.What == $"made with serial {successor.Serial} in place of {old.Serial}").By);
        }

        // Decided once: a second remake would make a second successor.
        var again = Assert.IsType<DisposeNonconformance.Outcome.Stale>(await flange.DisposeAsync(scene.Mara, "remake", rowVersion: 2));
        Assert.Contains("nothing more is decided on it", again.Now, StringComparison.Ordinal);
        var board = await new Portal.Features.Board.ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation);
        Assert.DoesNotContain(board.Pieces, piece => piece.Row.Id == flange.Piece);
    }

    [Fact]
    public async Task What_was_made_to_conform_before_anybody_decided_is_listed_as_decided_by_nobody()
    {
        var flange = await Flange.TackedAsync(scene);
        async Task<ShowNonconformance.ListRow> RowAsync()
        {
            var serial = await flange.OfPieceAsync<string>("select serial from piece where id = @Piece");
            return Assert.Single(await new ShowNonconformance.Handler(scene.Database).ListAsync(scene.Mara, Cancellation), row => row.Serial == serial);
        }

        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.False((await RowAsync()).Unsaid);
        await flange.MeasuredAsync(flange.Good());
        Assert.True((await RowAsync()).Unsaid);

        flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "rework"));
        await flange.MeasuredAsync(flange.Good());
        Assert.Equal((false, "rework"), ((await RowAsync()).Unsaid, (await RowAsync()).Disposition));
    }

    [Fact]
    public async Task What_is_to_be_repaired_waits_for_its_measurement_and_for_a_decision_when_it_fails_again()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        async Task<ShowPiece.Page> PageAsync() => (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        Assert.Null((await PageAsync()).Repair);
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "repair"));
        Assert.Equal("It carries nothing.", (await PageAsync()).Repair?.DispositionReason);
        Assert.EndsWith("is to be repaired", (await PageAsync()).Next.Headline, StringComparison.Ordinal);
        Assert.NotNull(await flange.HeldAsync());
        Task<Turn> TurnAsync() => new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, flange.Order, Cancellation).ContinueWith(page => page.Result!.Standing.Turn, TaskScheduler.Default);
        Assert.Equal(Turn.Shop, await TurnAsync());

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.9m, uncertainty: 0.05m));
        Assert.EndsWith("does not conform: stop", (await PageAsync()).Next.Headline, StringComparison.Ordinal);
        Assert.Null((await PageAsync()).Repair);
        Assert.Equal(Turn.BuildShop, await TurnAsync());
        var board = await new Portal.Features.Board.ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation);
        Assert.Equal("Saltmarsh Works", Assert.Single(board.Pieces, piece => piece.Row.Id == flange.Piece).WaitsFor);
        async Task<ShowReport.Sheet> NewestAsync() =>
            (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, await flange.OfPieceAsync<Guid>("select id from report where piece_id = @Piece order by submitted_at desc limit 1"), Cancellation))!;
        Assert.Null((await NewestAsync()).Report.ReleasedAt);
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", rowVersion: 2));
        Assert.Null(await flange.HeldAsync());
        Assert.Equal("It carries nothing.", (await NewestAsync()).Report.ReleasedReason);
        var correction = (await new Portal.Features.Joints.ShowCorrection.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        Assert.Equal("It carries nothing.", Assert.Single(correction.LetGo).Reason);
    }

    [Fact]
    public async Task After_rework_is_decided_it_is_the_turn_of_the_shop_and_its_page_leads_to_measuring()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m)));
        async Task<(Move, string?, string)> NextAsync(Portal.Platform.People.Actor actor)
        {
            var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(actor, flange.Piece, Cancellation))!;
            return (page.Next.Move, page.Next.Stage, page.Next.Headline);
        }

        Assert.Equal(Move.None, (await NextAsync(scene.Ida)).Item1);
        Assert.Equal(Turn.BuildShop, (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, flange.Order, Cancellation))!.Standing.Turn);
        await flange.DisposeAsync(scene.Mara, "rework");
        var (move, stage, headline) = await NextAsync(scene.Ida);
        Assert.Equal((Move.Measure, "tack"), (move, stage));
        Assert.EndsWith("is to be reworked", headline, StringComparison.Ordinal);
        var order = (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, flange.Order, Cancellation))!;
        Assert.Equal(scene.HolmLane, Assert.Single(order.Pieces).Route.TurnOf(scene.Saltmarsh));
        Assert.Equal(Turn.Shop, order.Standing.Turn);
    }

    /// <summary>A report may bring only some values again; what was to be reworked is answered by its own value.</summary>
    [Fact]
    public async Task A_rework_stands_until_what_failed_is_measured_again()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 121m, uncertainty: 0.05m), Flange.Value(flange.Minor, 99m)));
        await flange.DisposeAsync(scene.Mara, "rework");
        async Task<string?> DecidedAsync() => (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!.Piece.Route.Decided;

        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 3));
        Assert.Equal("rework", await DecidedAsync());
        await flange.MeasuredAsync(Flange.Value(flange.Minor, 96m));
        Assert.Equal("rework", await DecidedAsync());
        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.9m, uncertainty: 0.05m));
        Assert.Null(await DecidedAsync());
    }

    /// <summary>Where a person opens the hold, page and mails say that a person does, and not that it opens by itself.</summary>
    [Theory]
    [InlineData("report", "then it goes on by itself", "and opens the hold", "Nothing is left to decide.")]
    [InlineData("person", "then an engineer of Saltmarsh Works releases it", "and an engineer of Saltmarsh Works releases the hold", "An engineer releases the hold after fit and tack now.")]
    public async Task After_a_rework_it_is_said_who_opens_the_hold(string opensBy, string onPage, string decided, string healed)
    {
        var flange = await Flange.TackedAsync(scene, opensBy: opensBy);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Minor, 99m)));
        await flange.DisposeAsync(scene.Mara, "rework");
        Assert.Contains(onPage, (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!.Next.ToDo, StringComparison.Ordinal);
        Assert.Contains(decided, await flange.OfPieceAsync<string>("select body from notice where piece_id = @Piece and kind = 'nonconformance decided' limit 1"), StringComparison.Ordinal);

        await flange.MeasuredAsync(Flange.Value(flange.Minor, 96m));
        Assert.EndsWith(healed, await flange.OfPieceAsync<string>("select body from notice where piece_id = @Piece and kind = 'nonconformance closed' limit 1"), StringComparison.Ordinal);
    }

    /// <summary>What failed before and was not measured again is no news; what fails again says so.</summary>
    [Fact]
    public async Task A_report_of_other_values_during_a_rework_is_told_to_nobody_as_a_failure()
    {
        var flange = await Flange.TackedAsync(scene);
        Task<long> ToldAsync() => flange.OfPieceAsync<long>("select count(*) from notice where piece_id = @Piece and kind = 'report failed'");
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Minor, 99m), Flange.Value(flange.Hand, 0)));
        var first = await ToldAsync();
        Assert.True(first > 0);
        Assert.Contains("left hand is no go", await flange.OfPieceAsync<string>("select body from notice where piece_id = @Piece and kind = 'report failed' limit 1"), StringComparison.Ordinal);
        await flange.DisposeAsync(scene.Mara, "rework");
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 3));
        Assert.Equal(first, await ToldAsync());

        await flange.MeasuredAsync(Flange.Value(flange.Minor, 98m));
        Assert.Equal(2 * first, await ToldAsync());
        var subject = await flange.OfPieceAsync<string>("select subject from notice where piece_id = @Piece and kind = 'report failed' order by created_at desc limit 1");
        Assert.EndsWith("still does not conform at stage tack: balloon 20", subject, StringComparison.Ordinal);
        var body = await flange.OfPieceAsync<string>("select body from notice where piece_id = @Piece and kind = 'report failed' order by created_at desc limit 1");
        Assert.Contains(" is still open: nothing on this piece may start", body, StringComparison.Ordinal);
    }

    /// <summary>What whoever measured wrote on the report stands where it is decided; the report of a piece that is over asks for nothing.</summary>
    [Fact]
    public async Task The_note_of_a_report_stands_where_it_is_decided_and_the_report_of_what_is_over_says_so()
    {
        var flange = await Flange.TackedAsync(scene);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var request = new SubmitReport.Request("tack", [new SubmitReport.PieceValues(flange.Piece, flange.Good(Flange.Value(flange.Minor, 99m)))], null, Guid.CreateVersion7(), "gap on the left");
        var report = Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, request, Cancellation)).Reports).ReportId;
        var nonconformance = await flange.OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece");
        var note = Assert.Single((await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Mara, nonconformance, Cancellation))!.Notes);
        Assert.Equal(("gap on the left", report), (note.Note, note.ReportId));
        // What the portal wrote itself is nobody's words.
        const string Written = "Critical dimensions measured with what is in no book of instruments, its calibration not known: height gauge 1.";
        Assert.Equal("gap on the left", SubmitReport.OwnWords($"gap on the left\n{Written}"));
        Assert.Equal("", SubmitReport.OwnWords(Written));

        Assert.Null((await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, report, Cancellation))!.Over);
        await flange.DisposeAsync(scene.Mara, "scrap");
        Assert.Equal("scrapped", (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, report, Cancellation))!.Over);
    }

    [Fact]
    public async Task What_the_build_shop_passes_on_stands_in_the_history_on_behalf_of_who_measured_it()
    {
        var flange = await Flange.TackedAsync(scene);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var request = new SubmitReport.Request("tack", [new SubmitReport.PieceValues(flange.Piece, flange.Good())], null, Guid.CreateVersion7(), OnBehalf: true);
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, request, Cancellation));

        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Mara, flange.Piece, Cancellation))!;
        Assert.Equal((scene.Ned.Name, "Holm Lane Fabrication"), (Assert.Single(page.Reports).By, page.PassedOnFor(page.Reports[0])));
        Assert.Equal("Holm Lane Fabrication", Assert.Single(page.History, each => each.What.StartsWith("report at tack", StringComparison.Ordinal)).OnBehalfOf);
    }

    /// <summary>The correction sheet names what fails, yes or no as well, wherever a nonconformance of the piece is open; of what is over it says that.</summary>
    [Fact]
    public async Task The_correction_sheet_names_everything_that_fails_of_every_open_nonconformance()
    {
        var flange = await Flange.TackedAsync(scene);
        async Task<Portal.Features.Joints.ShowCorrection.Page> SheetAsync() => (await new Portal.Features.Joints.ShowCorrection.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!;
        await flange.MeasuredAsync([.. flange.Good(Flange.Value(flange.Hand, 0)).Where(value => value.CharacteristicId != flange.Minor)]);

        Assert.Equal(("2", "no go", "does not conform", "tack"), (await SheetAsync()).Dimensions.Select(one => (one.Balloon, one.Value, one.Verdict, one.Stage)).Single());
        Assert.Equal("20", Assert.Single((await SheetAsync()).Missing));

        // A stage that asks nothing of the flange conforms later and hides nothing of what is open at tack.
        await using (var owner = await scene.OwnerAsync())
        {
            const string Later = """
                insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
                select gen_random_uuid(), owner_id, work_order_id, id, revision_id, @HolmLane, 'as welded', 'typed', gen_random_uuid(), @at, @PersonId, 'conforms', 1, 0, 0 from piece where id = @Piece
                """;
            await Dapper.SqlMapper.ExecuteAsync(owner, Later, new { scene.HolmLane, at = scene.Clock.GetUtcNow().AddSeconds(30), scene.Ida.PersonId, flange.Piece });
        }

        var sheet = await SheetAsync();
        Assert.Equal(("tack", false), (sheet.Stage, sheet.NothingToChange));
        Assert.Null(sheet.Over);
        await flange.DisposeAsync(scene.Mara, "scrap");
        Assert.Equal("scrapped", (await SheetAsync()).Over);
    }

    /// <summary>A concession names its end on the report, in the history and in the mail; a remark of whoever measured stands beside the value.</summary>
    [Fact]
    public async Task The_end_of_a_concession_and_the_remark_of_a_value_are_shown()
    {
        var flange = await Flange.TackedAsync(scene);
        var until = DateOnly.FromDateTime(scene.Clock.GetUtcNow().UtcDateTime).AddDays(40);
        var taken = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.48m, uncertainty: 0.05m)));
        Assert.IsType<GrantConcession.Outcome.Granted>(await flange.GrantAsync(scene.Mara, taken.ReportId, until));

        var day = until.ToString("d MMM yyyy", System.Globalization.CultureInfo.InvariantCulture);
        Assert.Equal(until, (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, taken.ReportId, Cancellation))!.Report.ReleasedUntil);
        Assert.Contains((await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!.History, each => each.What.StartsWith($"concession, valid until {day}: ", StringComparison.Ordinal));
        Assert.Contains("The concession is valid until", await flange.OfPieceAsync<string>("select body from notice where piece_id = @Piece and kind = 'released under concession'"), StringComparison.Ordinal);

        flange = await Flange.TackedAsync(scene);
        // Outside as measured, and only not proven because nothing says how well: it is to be corrected all the same.
        foreach (var (length, outside) in new[] { (120.6m, 1), (120.4m, 0) })
        {
            var report = (await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, length)))).ReportId;
            var sheet = (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, report, Cancellation))!;
            Assert.Equal(("not proven", outside), (sheet.Report.Verdict, sheet.Outside));
        }

        flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Minor, 99m) with { Note = "burr left" }));
        var nonconformance = await flange.OfPieceAsync<Guid>("select id from nonconformance where piece_id = @Piece");
        Assert.Equal("burr left", Assert.Single((await new ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Mara, nonconformance, Cancellation))!.Values).Note);
    }

    /// <summary>Weld is in work when a value of tack turns out not proven: it is not stopped in the middle, and no page is silent about it, nor is the release after weld.</summary>
    [Fact]
    public async Task What_turns_out_not_proven_after_the_piece_went_on_is_named_until_it_is_proven_or_conceded()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good());
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(flange.Order, "weld")));
        async Task<string> HeadlineAsync() => (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, flange.Piece, Cancellation))!.Next.Headline;
        async Task<string[]> OnBoardAsync() => Assert.Single(
            (await new Portal.Features.Board.ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation)).Pieces, piece => piece.Row.Id == flange.Piece).Row.NotShown;
        Assert.Equal("Weld is in work", await HeadlineAsync());
        Assert.Empty(await OnBoardAsync());

        await flange.MeasuredAsync(Flange.Value(flange.Length, 120.48m, uncertainty: 0.05m));
        Assert.Equal("Weld is in work, not shown to conform at tack", await HeadlineAsync());
        Assert.Equal(["tack"], await OnBoardAsync());
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, await scene.StepsAsync(flange.Order, "weld")));
        Assert.EndsWith(", not shown to conform at tack", await HeadlineAsync(), StringComparison.Ordinal);

        var report = await flange.OfPieceAsync<Guid>("select id from report where piece_id = @Piece order by submitted_at desc limit 1");
        Assert.IsType<GrantConcession.Outcome.Granted>(await flange.GrantAsync(scene.Mara, report));
        Assert.DoesNotContain("not shown", await HeadlineAsync(), StringComparison.Ordinal);
        Assert.Empty(await OnBoardAsync());
        await flange.MeasuredAsync(Flange.Value(flange.Minor, 96.79m, uncertainty: 0.05m), Flange.Value(flange.Length, 120.47m, uncertainty: 0.05m));
        Assert.Equal(["tack"], await OnBoardAsync());
    }

    /// <summary>The weld is planned; values "as welded" are of something that is not welded yet.</summary>
    [Fact]
    public async Task A_report_before_its_step_opens_nothing_and_the_same_file_opens_it_once_the_step_has_begun()
    {
        PlannedStep[] route = [new("cut", null, null), new("fit and tack", null, "tack", "hold", "report"), new("weld", null, null)];
        var order = await scene.AcceptedAsync(scene.Line(route: route));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Ida, order, "cut");
        var request = new SubmitReport.Request(
            "tack", [new SubmitReport.PieceValues(piece, [Flange.Value(scene.CradleBore, 25m)])], new SubmitReport.File("early.csv", new string('e', 64), 10), null);
        Task<SubmitReport.Outcome> SubmitAsync() => new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, request, Cancellation);
        Task<long> OpenAsync() => scene.AskAsync<long>("select count(*) from piece_step where piece_id = @piece and opened_at is not null", new { piece });

        Assert.Equal("conforms", Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync()).Reports).Verdict);
        Assert.Equal(0, await OpenAsync());
        const string Forge = "update piece_step set opened_at = now(), opened_by = @PersonId, opened_how = 'report', report_id = (select id from report where piece_id = @piece) where id = any (@tack)";
        var tack = await scene.StepsAsync(order, "fit and tack");
        Assert.Equal("FL006", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => scene.AsAppAsync(scene.Ida, Forge, new { tack, piece, scene.Ida.PersonId }))).SqlState);
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, tack));
        Assert.Equal("tack", (await PageAsync()).DueStage);
        Assert.Contains((await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, Cancellation)).ToMeasure, row => row.PieceId == piece);
        Assert.IsType<FinishStep.Outcome.Finished>(await scene.FinishAsync(scene.Ida, tack));
        Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld")));

        async Task<ShowPiece.Page> PageAsync() => (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, piece, Cancellation))!;
        Assert.NotNull((await PageAsync()).TooEarly);
        var early = await scene.AskAsync<Guid>("select id from report where piece_id = @piece", new { piece });
        Assert.Equal("fit and tack", (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, early, Cancellation))!.TooEarly);
        var again = Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync());
        Assert.Equal((true, true), (Assert.Single(again.Reports).Before, again.Opened));
        Assert.Null((await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, early, Cancellation))!.TooEarly);
        Assert.Equal(1, await OpenAsync());
        Assert.Null((await PageAsync()).TooEarly);
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld")));
    }

    /// <summary>What was used as it was before it was tacked says nothing of the tacked part.</summary>
    [Fact]
    public async Task A_concession_from_before_its_step_opens_nothing()
    {
        PlannedStep[] route = [new("cut", null, null), new("fit and tack", null, "tack", "hold", "report"), new("weld", null, null)];
        var order = await scene.AcceptedAsync(scene.Line(route: route));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        Task<SubmitReport.Outcome> SubmitAsync(decimal bore) => new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Ida, new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, [Flange.Value(scene.CradleBore, bore)])], null, Guid.CreateVersion7()), Cancellation);

        Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(26m));
        var open = await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @piece", new { piece });
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await new DisposeNonconformance.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Mara, new(open, 1, "use as is", "It carries nothing.", null), Cancellation));
        const string Forge = """
            update piece_step set opened_at = now(), opened_by = @PersonId, opened_how = 'concession', opened_reason = 'so' where id = any (@tack)
            """;
        var tack = await scene.StepsAsync(order, "fit and tack");
        Assert.Equal("FL006", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => scene.AsAppAsync(scene.Mara, Forge, new { tack, scene.Mara.PersonId }))).SqlState);
        await scene.DoAsync(scene.Ida, order, "cut");
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        Assert.Equal("FL003", Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld"))).Why.Code);

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(25m));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "weld")));
    }

    [Fact]
    public async Task An_uncertainty_of_nothing_is_refused_by_the_portal_and_by_the_database()
    {
        var flange = await Flange.TackedAsync(scene);
        var outcome = await flange.SubmitAsync(scene.Ida, flange.Good(Flange.Value(flange.Length, 120.5m, uncertainty: 0)));
        Assert.Contains("an uncertainty is more than nothing", Assert.IsType<SubmitReport.Outcome.Refused>(outcome).Why, StringComparison.Ordinal);
        Assert.Equal("not proven", (await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.5m, uncertainty: 0.01m)))).Verdict);
        var check = await Assert.ThrowsAsync<Npgsql.PostgresException>(() => flange.OfPieceAsync<object>(
            "insert into measured_value select report_id, work_order_id, characteristic_id, 9, value, unit, typed, 0, instrument, note, verdict from measured_value where report_id = (select id from report where piece_id = @Piece) limit 1"));
        Assert.Equal("uncertainty_above_zero", check.ConstraintName);
    }

    [Fact]
    public async Task Half_typed_work_is_kept_as_typed_until_it_is_submitted()
    {
        var flange = await Flange.TackedAsync(scene);
        var draft = new KeepDraft.Draft(new() { [KeepDraft.KeyOf(flange.Length, 1)] = new("120,", "", "half\0 typed") }, "caliper 3", "later");
        var keep = new KeepDraft.Handler(scene.Database, scene.Clock);
        Assert.True(await keep.HandleAsync(scene.Ida, flange.Piece, "tack", draft, Cancellation));
        Assert.False(await keep.HandleAsync(scene.Tom, flange.Piece, "tack", draft, Cancellation));

        await using (var work = await scene.Database.BeginAsync(scene.Ida, Cancellation))
        {
            var kept = await KeepDraft.ReadAsync(work, flange.Piece, "tack");
            Assert.Equal(("120,", "caliper 3", "later"), (kept.Entries[KeepDraft.KeyOf(flange.Length, 1)].Value, kept.Instrument, kept.Note));
        }

        await using (var work = await scene.Database.BeginAsync(scene.Mara, Cancellation))
            Assert.Empty((await KeepDraft.ReadAsync(work, flange.Piece, "tack")).Entries);
        await flange.MeasuredAsync(flange.Good());
        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from draft where piece_id = @Piece"));
    }

    // Common practice: tolerance / (2U) of 4 is the floor. U 0.1: 1.0/0.2 = 5 for 120 ±0.5, 0.4/0.2 = 2 for Ø13.5 ±0.2, 1.6/0.2 = 8 for 96 ±0.8.
    [Fact]
    public async Task A_gauge_that_is_too_coarse_is_said_as_soon_as_it_is_chosen_with_the_dimensions_that_it_cannot_judge()
    {
        var flange = await Flange.TackedAsync(scene);
        await scene.AskAsync<object>(
            "insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty) values (gen_random_uuid(), @HolmLane, 'caliper 9', 'caliper', 'mm', 0.01, 0.1)",
            new { scene.HolmLane });
        var pages = new MeasurePage.Handler(scene.Database);
        var keep = new KeepDraft.Handler(scene.Database, scene.Clock);
        async Task<IReadOnlyList<CoarseGauge>> ChosenAsync(string instrument, Dictionary<string, KeepDraft.Entry> entries)
        {
            Assert.True(await keep.HandleAsync(scene.Ida, flange.Piece, "tack", new(entries, instrument, ""), Cancellation));
            return (await pages.PieceAsync(scene.Ida, flange.Piece, "tack", Cancellation))!.Coarse;
        }

        var said = Assert.Single(await ChosenAsync("caliper 9", []));
        Assert.Equal("Balloon 12.1, 10× Ø13.5 ±0.2: tolerance / 2U is 2.0 with caliper 9, 4 is the floor", said.Text);
        Assert.Empty(await ChosenAsync("nobody knows it", []));
        // What is typed beside the value counts for it: 1.0 / (2 · 0.2) = 2.5.
        var typed = new Dictionary<string, KeepDraft.Entry> { [KeepDraft.KeyOf(flange.Length, 1)] = new("120", "0.2", "") };
        Assert.Equal([("1", 2.5m)], (await ChosenAsync("nobody knows it", typed)).Select(one => (one.Balloon, one.Ratio)));
    }

    [Fact]
    public async Task Everything_that_a_report_changes_leaves_who_before_and_after()
    {
        var flange = await Flange.TackedAsync(scene);
        await flange.MeasuredAsync(flange.Good());
        await flange.MeasuredAsync(Flange.Value(flange.Hand, 0));

        const string Written = "select string_agg(table_name || ' ' || action, ', ' order by id) from audit where piece_id = @Piece and person_id is not null and table_name in ('report', 'nonconformance', 'piece_step') and action <> 'insert' or piece_id = @Piece and table_name in ('report', 'nonconformance')";
        Assert.EndsWith("report insert, piece_step update, report insert, piece_step update, nonconformance insert", await flange.OfPieceAsync<string>(Written));
        const string Gate = """
            select count(*) from audit where table_name = 'piece_step' and piece_id = @Piece and person_id is not null and organisation_id is not null
              and before ->> 'opened_how' is null and after ->> 'opened_how' = 'report' and before -> 'row_version' <> after -> 'row_version'
            """;
        Assert.Equal(1, await flange.OfPieceAsync<long>(Gate));
        Assert.Equal(scene.Ida.PersonId, await flange.OfPieceAsync<Guid>("select person_id from audit where table_name = 'nonconformance' and piece_id = @Piece"));
    }

    [Fact]
    public async Task Not_proven_is_released_by_the_engineer_alone_and_leaves_a_concession_for_that_serial()
    {
        var flange = await Flange.TackedAsync(scene);
        var taken = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Length, 120.48m, uncertainty: 0.05m)));
        Assert.IsType<GrantConcession.Outcome.NotAllowed>(await flange.GrantAsync(scene.Ida, taken.ReportId));
        Assert.IsType<GrantConcession.Outcome.NotAllowed>(await flange.GrantAsync(scene.Ned, taken.ReportId));
        Assert.IsType<GrantConcession.Outcome.NotFound>(await flange.GrantAsync(scene.Tom, taken.ReportId));

        Assert.IsType<GrantConcession.Outcome.Granted>(await flange.GrantAsync(scene.Mara, taken.ReportId));
        Assert.IsType<GrantConcession.Outcome.Refused>(await flange.GrantAsync(scene.Mara, taken.ReportId));
        Assert.Null(await flange.HeldAsync());
        Assert.Equal(scene.Mara.PersonId, await flange.OfPieceAsync<Guid>("select c.granted_by from concession c join concession_piece p on p.concession_id = c.id where p.piece_id = @Piece and c.reason <> ''"));
    }

    [Fact]
    public async Task A_concession_that_is_over_already_is_refused_by_the_page_and_by_the_database()
    {
        var today = DateOnly.FromDateTime(scene.Clock.GetUtcNow().UtcDateTime);
        var dispose = new DisposeNonconformance.Validator(scene.Clock);
        DisposeNonconformance.Request Until(DateOnly? day) => new(Guid.Empty, 1, "use as is", "It carries nothing.", day);
        Assert.True(dispose.Validate(Until(today)).IsValid);
        Assert.True(dispose.Validate(Until(null)).IsValid);
        Assert.Contains("over", Assert.Single(dispose.Validate(Until(today.AddDays(-2))).Errors).ErrorMessage, StringComparison.Ordinal);
        Assert.False(dispose.Validate(Until(DateOnly.MaxValue)).IsValid);
        Assert.False(new GrantConcession.Validator(scene.Clock).Validate(new GrantConcession.Request(Guid.Empty, "It carries nothing.", today.AddDays(-2))).IsValid);

        var flange = await Flange.TackedAsync(scene);
        const string Raw = """
            insert into concession (id, owner_id, work_order_id, reason, valid_until, granted_at, granted_by)
            select @id, owner_id, work_order_id, 'because', @until, now(), @PersonId from piece where id = @Piece
            """;
        await using var owner = await scene.OwnerAsync();
        Assert.Equal("concession_not_over", (await Assert.ThrowsAsync<Npgsql.PostgresException>(() => Dapper.SqlMapper.ExecuteAsync(
            owner, Raw, new { id = Guid.CreateVersion7(), until = new DateOnly(2001, 1, 1), scene.Mara.PersonId, flange.Piece }))).ConstraintName);
    }

    [Fact]
    public async Task What_fails_is_decided_in_its_nonconformance_and_only_by_the_engineer()
    {
        var flange = await Flange.TackedAsync(scene);
        var taken = await flange.MeasuredAsync(flange.Good(Flange.Value(flange.Holes, 13.8m, 7)));
        Assert.IsType<GrantConcession.Outcome.Refused>(await flange.GrantAsync(scene.Mara, taken.ReportId));
        Assert.IsType<DisposeNonconformance.Outcome.NotAllowed>(await flange.DisposeAsync(scene.Ida, "use as is"));
        Assert.IsType<DisposeNonconformance.Outcome.NotAllowed>(await flange.DisposeAsync(scene.Ned, "use as is"));

        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "rework"));
        Assert.NotNull(await flange.HeldAsync());
        Assert.IsType<DisposeNonconformance.Outcome.Stale>(await flange.DisposeAsync(scene.Mara, "use as is"));
        Assert.NotNull(await flange.HeldAsync());
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await flange.DisposeAsync(scene.Mara, "use as is", rowVersion: 2));

        Assert.Null(await flange.HeldAsync());
        Assert.Equal(1, await flange.OfPieceAsync<long>("select count(*) from concession c join concession_piece p on p.concession_id = c.id where p.piece_id = @Piece and c.nonconformance_id is not null"));
        Assert.Equal("concession", await flange.OfPieceAsync<string>("select opened_how from piece_step where piece_id = @Piece and opened_at is not null"));
    }
}
