using Dapper;
using FabLink.Engineering.Sampling;
using FabLink.Portal.Features.Board;
using FabLink.Portal.Features.Nonconformances;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;
using Npgsql;

namespace FabLink.Portal.Tests.Reports;

/// <summary>Eight plates with a critical, a major and a minor length, all checked at tack; the minor one on a sample.</summary>
public sealed class SampledLineTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_piece_outside_the_sample_conforms_without_the_sampled_dimension_and_one_inside_does_not()
    {
        var plates = await PlatesAsync("zero-20");

        // Hypergeometric: 6 of 8 is the smallest sample that lets a lot with 2 bad pieces through with at most 10 %.
        Assert.Equal(6, plates.Inside.Count);
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: null));
        Assert.Equal("incomplete", await MeasureAsync(plates, plates.Inside[0], minor: null));
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Inside[0], minor: 96));
    }

    [Fact]
    public async Task The_critical_and_the_major_dimension_stay_required_on_every_piece()
    {
        var plates = await PlatesAsync("zero-20");

        Assert.Equal("incomplete", await SubmitAsync(plates.Outside[0], Value(plates.Major, 50)));
        Assert.Equal("incomplete", await SubmitAsync(plates.Outside[1], Value(plates.Critical, 120)));
    }

    [Fact]
    public async Task A_failed_sample_makes_every_piece_be_measured_shuts_what_was_open_and_tells_both_shops()
    {
        var plates = await PlatesAsync("zero-20");
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: null));
        Assert.Equal(1, await OpenGatesAsync(plates.Outside[0]));

        Assert.Equal("does not conform", await MeasureAsync(plates, plates.Inside[3], minor: 99));

        Assert.Equal(0, await OpenGatesAsync(plates.Outside[0]));
        Assert.Equal("incomplete", await MeasureAsync(plates, plates.Outside[1], minor: null));
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: 96));
        Assert.Equal(2, await scene.AskAsync<long>(
            "select count(distinct organisation_id) from notice where kind = 'sample failed' and work_order_id = @Order", new { plates.Order }));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from nonconformance where work_order_id = @Order", new { plates.Order }));
    }

    /// <summary>What was asked of a piece grew after its report: its pages say incomplete and which balloon, and no decision covers what was not on the page.</summary>
    [Fact]
    public async Task A_failed_sample_says_what_is_asked_now_wherever_the_piece_is_shown()
    {
        var plates = await PlatesAsync("zero-20");
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: null));
        Assert.Equal("does not conform", await SubmitAsync(plates.Outside[1], Value(plates.Critical, 125), Value(plates.Major, 50)));
        var seen = await NonconformanceAsync(plates.Outside[1]);
        Assert.Equal(["1"], seen.Values.Select(value => value.BalloonText));

        Assert.Equal("does not conform", await MeasureAsync(plates, plates.Inside[3], minor: 99));

        var report = await scene.AskAsync<Guid>("select id from report where piece_id = @piece", new { piece = plates.Outside[0] });
        var sheet = (await new ShowReport.Handler(scene.Database).HandleAsync(scene.Ida, report, Cancellation))!;
        Assert.Equal(("incomplete", "3", true), (sheet.Report.Verdict, Assert.Single(sheet.Report.Missing), sheet.AskedSince));
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, plates.Outside[0], Cancellation))!;
        Assert.Equal(("incomplete", report), (Assert.Single(page.Reports).Verdict, page.Undecided?.Id));
        Assert.Null(page.TooEarly);
        var line = (await new MeasurePage.Handler(scene.Database).LineAsync(scene.Ida, plates.Line, "tack", Cancellation))!;
        Assert.Equal("incomplete", line.Pieces.Single(row => row.Id == plates.Outside[0]).Verdict);

        var decide = new DisposeNonconformance.Handler(scene.Database, scene.Clock);
        Task<DisposeNonconformance.Outcome> UseAsync(ShowNonconformance.Page of) => decide.HandleAsync(
            scene.Mara, new(of.Nonconformance.Id, of.Nonconformance.RowVersion, "use as is", "It is free there.", null, of.Seen), Cancellation);
        Assert.IsType<DisposeNonconformance.Outcome.Stale>(await UseAsync(seen));
        var now = await NonconformanceAsync(plates.Outside[1]);
        Assert.Equal(["1 does not conform", "3 not measured"], now.Values.Select(value => $"{value.BalloonText} {value.Stands}"));
        Assert.IsType<DisposeNonconformance.Outcome.Disposed>(await UseAsync(now));
    }

    private async Task<ShowNonconformance.Page> NonconformanceAsync(Guid piece) => (await new ShowNonconformance.Handler(scene.Database).HandleAsync(
        scene.Mara, await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @piece", new { piece }), Cancellation))!;

    /// <summary>A piece that went on before its sample failed is not stopped in the middle of its weld; the board and its page say that it is not shown to conform any more.</summary>
    [Fact]
    public async Task A_piece_that_went_on_before_the_sample_failed_is_named_as_not_shown_to_conform()
    {
        var plates = await PlatesAsync("zero-20");
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: null));
        var weld = await scene.AskAsync<Guid>(
            "select s.id from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = @piece and r.kind = 'weld'", new { piece = plates.Outside[0] });
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, [weld]));
        Assert.Empty(await NotShownAsync(plates));

        Assert.Equal("does not conform", await MeasureAsync(plates, plates.Inside[0], minor: 99));

        Assert.Equal([(plates.Outside[0], "tack")], await NotShownAsync(plates));
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: 96));
        Assert.Empty(await NotShownAsync(plates));
    }

    [Fact]
    public async Task The_history_says_that_the_sample_shut_a_hold_and_when()
    {
        var plates = await PlatesAsync("zero-20");
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[0], minor: null));
        var serial = await scene.AskAsync<string>("select serial from piece where id = @piece", new { piece = plates.Inside[0] });
        Assert.Equal("does not conform", await MeasureAsync(plates, plates.Inside[0], minor: 99));

        var history = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Ida, plates.Outside[0], Cancellation))!.History;
        var shut = Assert.Single(history, each => each.What == $"gate after fit and tack shut again: the sample of its line failed at {serial}");
        Assert.Equal(scene.Clock.GetUtcNow(), shut.At);
        Assert.Contains(history, each => each.What == "order accepted");
    }

    /// <summary>Where all that a stage asks is sampled, a piece outside the sample goes on with a report without values; one inside does not, nor does it past the portal.</summary>
    [Fact]
    public async Task A_piece_outside_the_sample_of_everything_is_submitted_without_a_value()
    {
        var plates = await PlatesAsync("zero-20", onlyMinor: true);
        Assert.True(await NothingAskedAsync(plates.Outside[0]));
        Assert.False(await NothingAskedAsync(plates.Inside[0]));

        Assert.Equal("conforms", await SubmitAsync(plates.Outside[0]));
        Assert.Equal(1, await OpenGatesAsync(plates.Outside[0]));
        var refused = await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Ida, new SubmitReport.Request("tack", [new SubmitReport.PieceValues(plates.Inside[0], [])], null, Guid.CreateVersion7()), Cancellation);
        Assert.Contains("there is no value to submit", Assert.IsType<SubmitReport.Outcome.Refused>(refused).Why, StringComparison.Ordinal);
        const string Forge = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
            select gen_random_uuid(), owner_id, work_order_id, id, revision_id, @HolmLane, 'tack', 'typed', gen_random_uuid(), now(), @PersonId, 'conforms', 0, 0, 0 from piece where id = @piece;
            set constraints all immediate
            """;
        Assert.Equal("FL007", (await Assert.ThrowsAsync<PostgresException>(
            () => scene.AsAppAsync(scene.Ida, Forge, new { piece = plates.Inside[0], scene.HolmLane, scene.Ida.PersonId }))).SqlState);

        // The sample fails: it is measured like every other.
        Assert.Equal("does not conform", await SubmitAsync(plates.Inside[0], Value(plates.Minor, 99)));
        Assert.Equal(0, await OpenGatesAsync(plates.Outside[0]));
        Assert.False(await NothingAskedAsync(plates.Outside[0]));
    }

    [Fact]
    public async Task A_report_without_values_is_refused_where_nothing_is_asked_and_where_something_failed()
    {
        var plates = await PlatesAsync("zero-20", onlyMinor: true);
        var page = (await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Ida, plates.Outside[0], "as welded", Cancellation))!;
        Assert.False(page.NothingIsAsked);
        Assert.Contains("there is no value to submit", await RefusedAsync("as welded"), StringComparison.Ordinal);

        Assert.Equal("does not conform", await SubmitAsync(plates.Outside[0], Value(plates.Minor, 99)));
        Assert.Contains("says “does not conform”; a report without values changes nothing of that", await RefusedAsync("tack"), StringComparison.Ordinal);

        // So it is for whoever does not see what somebody else measured there.
        Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Mara, new SubmitReport.Request("after coat", [new SubmitReport.PieceValues(plates.Outside[0], [Value(plates.Minor, 99)])], null, Guid.CreateVersion7()), Cancellation));
        Assert.Contains("says “does not conform”", await RefusedAsync("after coat", scene.Wren), StringComparison.Ordinal);

        async Task<string> RefusedAsync(string stage, Actor? actor = null) => Assert.IsType<SubmitReport.Outcome.Refused>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            actor ?? scene.Ida, new SubmitReport.Request(stage, [new SubmitReport.PieceValues(plates.Outside[0], [])], null, Guid.CreateVersion7()), Cancellation)).Why;
    }

    [Fact]
    public async Task A_failure_outside_the_sample_is_that_pieces_own()
    {
        var plates = await PlatesAsync("zero-20");

        Assert.Equal("does not conform", await MeasureAsync(plates, plates.Outside[0], minor: 99));
        Assert.Equal("conforms", await MeasureAsync(plates, plates.Outside[1], minor: null));
    }

    [Fact]
    public async Task The_stated_seed_draws_the_pieces_that_were_drawn()
    {
        var plates = await PlatesAsync("zero-20");
        await using var owner = await scene.OwnerAsync();
        var seed = await owner.ExecuteScalarAsync<long>("select seed from line_sampling where line_id = @Line", new { plates.Line });

        Assert.Equal(RandomSample.Draw(8, 6, seed).Select(place => plates.Pieces[place]).Order(), plates.Inside.Order());
    }

    [Fact]
    public async Task Critical_characteristics_cannot_be_sampled_whoever_writes()
    {
        var plates = await PlatesAsync("zero-20");
        const string Sql = """
            insert into line_sampling (line_id, work_order_id, class, method, plan, lot, sample_size, accept, seed, chosen_at, chosen_by)
            values (@Line, @Order, 'critical', 'zero acceptance', 'any', 8, 2, 0, 1, now(), @By)
            """;
        await using var owner = await scene.OwnerAsync();

        var refused = await Assert.ThrowsAsync<PostgresException>(() => owner.ExecuteAsync(
            "alter table line_sampling disable trigger sampling_stays; " + Sql, new { plates.Line, plates.Order, By = scene.Mara.PersonId }));
        Assert.Equal("23514", refused.SqlState);
    }

    [Fact]
    public async Task An_issued_order_keeps_its_sampling()
    {
        var plates = await PlatesAsync("zero-20");

        Assert.IsType<ChooseSampling.Outcome.AlreadyIssued>(await ChooseAsync(plates.Order, plates.Line, null, null));
        Assert.Equal("FL008", (await Assert.ThrowsAsync<PostgresException>(
            () => scene.AsAppAsync(scene.Mara, "delete from line_sampling where line_id = @Line", new { plates.Line }))).SqlState);
        Assert.Equal("42501", (await Assert.ThrowsAsync<PostgresException>(
            () => scene.AsAppAsync(scene.Ida, "update line_sampling set sample_size = 1 where line_id = @Line", new { plates.Line }))).SqlState);
        Assert.Equal("42501", (await Assert.ThrowsAsync<PostgresException>(
            () => scene.AsAppAsync(scene.Tom, "select judge_sample(@report, now())", new { report = Guid.CreateVersion7() }))).SqlState);
    }

    [Fact]
    public async Task Only_the_engineer_chooses_and_only_what_is_offered()
    {
        var (order, line) = await DraftAsync(await RevisionAsync());
        var handler = new ChooseSampling.Handler(scene.Database, scene.Clock);

        Assert.IsType<ChooseSampling.Outcome.NotAllowed>(await handler.HandleAsync(scene.Ned, new(order, line, null, "zero-20"), Cancellation));
        Assert.Equal("major", Assert.IsType<ChooseSampling.Outcome.NotOffered>(await ChooseAsync(order, line, "one in ten", null)).Field);
        var page = await handler.PageAsync(scene.Mara, order, line, Cancellation);
        var zero = Assert.Single(page!.Offers, offer => offer.Key == "zero-20");
        // Hypergeometric, exact: none of 2 bad pieces among 6 of 8 is C(6,6)/C(8,6) = 1/28; of 1 bad piece 2/8.
        Assert.Equal(1 / 28.0, zero.Accepted.Single(one => one.Bad == 2).Probability, 1e-12);
        Assert.Equal(0.25, zero.Accepted.Single(one => one.Bad == 1).Probability, 1e-12);
    }

    [Fact]
    public async Task A_draft_keeps_its_sampling_when_something_else_of_it_is_changed()
    {
        var (order, line) = await DraftAsync(await RevisionAsync());
        Assert.Equal(1, Assert.IsType<ChooseSampling.Outcome.Saved>(await ChooseAsync(order, line, null, "zero-20")).Plans);
        var edit = new EditWorkOrder.Handler(scene.Database, scene.Clock);
        async Task<EditWorkOrder.Outcome.Saved> SaveAsync(Func<OrderForm, OrderForm> change)
        {
            var form = change((await new DraftWorkOrder.Handler(scene.Database).OpenAsync(scene.Ned, order, Cancellation))!);
            return Assert.IsType<EditWorkOrder.Outcome.Saved>(await edit.HandleAsync(scene.Ned, form.ToEdit(order), Cancellation));
        }

        async Task<bool> RemarkedAsync() => (await new ShowWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, order, Cancellation))!
            .Remarks.Any(remark => remark.EndsWith("no sampling is chosen.", StringComparison.Ordinal));
        Assert.False(await RemarkedAsync());
        Assert.False((await SaveAsync(form => form with { PurchaseOrderNumber = "PO 9" })).SamplingDropped);
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from line_sampling where line_id = @line", new { line }));
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from work_order_line where work_order_id = @order", new { order }));
        Assert.True((await SaveAsync(form => form with { Lines = [form.Lines![0] with { Quantity = 7 }] })).SamplingDropped);
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from line_sampling where work_order_id = @order", new { order }));
        Assert.True(await RemarkedAsync());
    }

    private sealed record Plates(Guid Order, Guid Line, Guid Critical, Guid Major, Guid Minor, IReadOnlyList<Guid> Pieces, IReadOnlyList<Guid> Inside, IReadOnlyList<Guid> Outside);

    private async Task<Plates> PlatesAsync(string minor, bool onlyMinor = false)
    {
        var revision = await RevisionAsync(onlyMinor);
        var (order, line) = await DraftAsync(revision);
        Assert.Equal(1, Assert.IsType<ChooseSampling.Outcome.Saved>(await ChooseAsync(order, line, null, minor)).Plans);
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(order, 1), Cancellation));
        Assert.IsType<OrderAnswer.Given>(await new AcceptWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order), Cancellation));
        await scene.DoAsync(scene.Ida, order, "cut");
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        var pieces = await scene.PiecesAsync(order);
        await using var owner = await scene.OwnerAsync();
        var inside = (await owner.QueryAsync<Guid>("select piece_id from line_sample_piece where line_id = @line", new { line })).ToHashSet();
        async Task<Guid> Of(int balloon) => await owner.ExecuteScalarAsync<Guid>("select id from characteristic where revision_id = @revision and balloon = @balloon", new { revision, balloon });
        return new Plates(order, line, await Of(1), await Of(2), await Of(3), pieces, [.. pieces.Where(inside.Contains)], [.. pieces.Where(piece => !inside.Contains(piece))]);
    }

    private async Task<Guid> RevisionAsync(bool onlyMinor = false)
    {
        var revision = Guid.CreateVersion7();
        const string Sql = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, 'plate', now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, 'plate', now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @By);
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            values (gen_random_uuid(), @Saltmarsh, @revision, 1, 'length', '120 ±0.5', 'mm', 120, 119.5, 120.5, 'stated', 'critical', '{tack}', 'before coating', 1, 'simple'),
                   (gen_random_uuid(), @Saltmarsh, @revision, 2, 'length', '50 ±0.5', 'mm', 50, 49.5, 50.5, 'stated', 'major', '{tack}', 'before coating', 1, 'simple'),
                   (gen_random_uuid(), @Saltmarsh, @revision, 3, 'length', '96 ±0.8', 'mm', 96, 95.2, 96.8, 'stated', 'minor', case when @onlyMinor then '{tack,after coat}' else '{tack}' end::text[], 'before coating', 1, 'simple');
            delete from characteristic where revision_id = @revision and class <> 'minor' and @onlyMinor;
            update revision set released_at = now(), released_by = @By where id = @revision
            """;
        await using var owner = await scene.OwnerAsync();
        await owner.ExecuteAsync(Sql, new
        {
            revision,
            onlyMinor,
            scene.Saltmarsh,
            By = scene.Mara.PersonId,
            part = Guid.CreateVersion7(),
            drawing = Guid.CreateVersion7(),
            number = $"PL-{revision}",
        });
        return revision;
    }

    private async Task<(Guid Order, Guid Line)> DraftAsync(Guid revision)
    {
        var order = await scene.DraftAsync(scene.Line(revision, quantity: 8));
        return (order, await scene.AskAsync<Guid>("select id from work_order_line where work_order_id = @order", new { order }));
    }

    private Task<ChooseSampling.Outcome> ChooseAsync(Guid order, Guid line, string? major, string? minor) =>
        new ChooseSampling.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(order, line, major, minor), Cancellation);

    private Task<string> MeasureAsync(Plates plates, Guid piece, decimal? minor) =>
        SubmitAsync(piece, [Value(plates.Critical, 120), Value(plates.Major, 50), .. minor is { } number ? [Value(plates.Minor, number)] : Array.Empty<SubmitReport.Value>()]);

    private async Task<string> SubmitAsync(Guid piece, params IReadOnlyList<SubmitReport.Value> values)
    {
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var outcome = await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Ida, new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, values)], null, Guid.CreateVersion7()), Cancellation);
        return Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports).Verdict;
    }

    /// <returns>The same on the board and on the pieces.</returns>
    private async Task<IReadOnlyList<(Guid Piece, string Stage)>> NotShownAsync(Plates plates)
    {
        var board = (await new ShowBoard.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(), Cancellation)).Pieces
            .Where(piece => piece.Row.WorkOrderId == plates.Order).SelectMany(piece => piece.Row.NotShown, (piece, stage) => (piece.Row.Id, stage)).ToList();
        await using var work = await scene.Database.BeginAsync(scene.Ned, Cancellation);
        Assert.Equal(board, (await PieceRoutes.OfOrderAsync(work, plates.Order)).SelectMany(piece => piece.Route.NotShown, (piece, stage) => (piece.Id, stage)));
        return board;
    }

    private async Task<bool> NothingAskedAsync(Guid piece) =>
        (await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Ida, piece, "tack", Cancellation))!.NothingIsAsked;

    private Task<long> OpenGatesAsync(Guid piece) =>
        scene.AskAsync<long>("select count(*) from piece_step where piece_id = @piece and opened_how = 'report'", new { piece });

    private static SubmitReport.Value Value(Guid characteristic, decimal number) => new(characteristic, 1, number, "mm", $"{number}", null, "", "");
}
