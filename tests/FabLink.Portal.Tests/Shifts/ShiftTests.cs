using Dapper;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Features.Shifts;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Shifts;

/// <summary>Beams of 640 mm that a shop tacks and welds: what it did to the last ones is said of the next one while it is only tacked.</summary>
public sealed class ShiftTests(ScenePortal portal) : IClassFixture<ScenePortal>
{
    private readonly Scene _scene = portal.Scene;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task Three_pieces_that_shrank_warn_of_the_fourth_at_tack_once_and_its_page_says_where_it_ends()
    {
        var beam = await BeamAsync(pieces: 5);
        foreach (var (piece, shift) in beam.Pieces.Zip([-1.0m, -1.1m, -0.95m]))
        {
            await WriteAsync(beam, piece, "tack", 640.2m);
            await WriteAsync(beam, piece, "as welded", 640.2m + shift);
        }
        var low = await SubmitAsync(beam, beam.Pieces[3], 639.9m);
        var high = await SubmitAsync(beam, beam.Pieces[4], 640.7m);

        // Limits 639.2 to 640.8: 639.9 less about 1.02 is outside, 640.7 less that is inside.
        // The portal's own job may have said it first; it is said once to each of the two, whoever looks.
        await WarnAsync(low);
        Assert.Equal(0, await WarnAsync(low));
        Assert.Equal(0, await WarnAsync(high));
        Assert.Equal(2, await _scene.AskAsync<long>("select count(*) from notice where kind = 'predicted to leave its limit' and piece_id = @piece", new { piece = beam.Pieces[3] }));

        using var ida = await portal.SignInAsync("ida@holmlane.example");
        var page = await ida.GetAsync($"/reports/{low}");
        Assert.Contains("Predicted to leave its limit at stage as welded", page.Text, StringComparison.Ordinal);
        Assert.Contains("638.88", page.Text, StringComparison.Ordinal);
        page = await ida.GetAsync($"/reports/{high}");
        Assert.DoesNotContain("Predicted to leave", page.Text, StringComparison.Ordinal);
        Assert.Contains("as welded about 639.68", page.Text, StringComparison.Ordinal);
        page = await ida.GetAsync("/shifts");
        Assert.Contains("used to warn at tack", page.Text, StringComparison.Ordinal);

        // Once it is welded and measured nothing is predicted any more.
        await WriteAsync(beam, beam.Pieces[3], "as welded", 639.0m);
        Assert.DoesNotContain("Predicted to leave", (await ida.GetAsync($"/reports/{low}")).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task One_report_whose_balloons_will_leave_their_limits_is_one_notice_that_lists_them()
    {
        var beam = await BeamAsync(pieces: 4, kind: "radius", balloons: 3);
        foreach (var (piece, shift) in beam.Pieces.Zip([-1.0m, -1.1m, -0.95m]))
        {
            await WriteAsync(beam, piece, "tack", 640.2m);
            await WriteAsync(beam, piece, "as welded", 640.2m + shift);
        }

        // Limits 639.2 to 640.8, and about 1.02 goes: balloons 1 and 3 leave them, balloon 2 does not.
        await WarnAsync(await SubmitAsync(beam, beam.Pieces[3], 639.9m, 640.7m, 639.8m));
        Assert.Equal(1, await ToldAsync(_scene.Mara));
        Assert.Equal(1, await ToldAsync(_scene.Ida));
        var (subject, body) = Assert.Single(await NoticesAsync());
        Assert.Contains("balloons 1, 3: predicted to leave their limits at stage as welded", subject, StringComparison.Ordinal);
        Assert.Equal(2, body.Split('\n').Count(line => line.StartsWith("Balloon ", StringComparison.Ordinal)));
        Assert.Contains("Balloon 3, 640 ±0.8: at stage as welded expected at 638.78 mm", body, StringComparison.Ordinal);

        // Of the next report only what was not said yet.
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        await WarnAsync(await SubmitAsync(beam, beam.Pieces[3], 639.9m, 639.7m, 639.8m));
        Assert.Contains("balloon 2: predicted to leave its limit", Assert.Single(await NoticesAsync(), one => one.Subject != subject).Subject, StringComparison.Ordinal);
        Assert.Equal(0, await WarnAsync(await SubmitAsync(beam, beam.Pieces[3], 639.9m, 639.7m, 639.8m)));

        Task<long> ToldAsync(Actor actor) => _scene.AskAsync<long>(
            "select count(*) from notice where kind = 'predicted to leave its limit' and piece_id = @piece and person_id = @PersonId", new { piece = beam.Pieces[3], actor.PersonId });

        // In no order: the portal's own job, which goes by the system's clock, may have written some of them.
        async Task<IReadOnlyList<(string Subject, string Body)>> NoticesAsync()
        {
            await using var owner = await _scene.OwnerAsync();
            return [.. await owner.QueryAsync<(string, string)>(
                "select subject, body from notice where kind = 'predicted to leave its limit' and piece_id = @piece and person_id = @PersonId",
                new { piece = beam.Pieces[3], _scene.Ida.PersonId })];
        }
    }

    [Fact]
    public async Task Two_pairs_are_listed_but_not_used()
    {
        var beam = await BeamAsync(pieces: 3, shop: _scene.Dunlin, kind: "diameter");
        foreach (var piece in beam.Pieces.Take(2))
        {
            await WriteAsync(beam, piece, "tack", 640.2m);
            await WriteAsync(beam, piece, "as welded", 639.1m);
        }
        var report = await WriteAsync(beam, beam.Pieces[2], "tack", 639.3m);

        Assert.Equal(0, await WarnAsync(report));
        var shift = Assert.Single(await ListAsync(_scene.Tom), row => row.Shift.Kind == "diameter").Shift;
        Assert.Equal(2, shift.Pairs);
        Assert.False(shift.Used);
    }

    [Fact]
    public async Task The_newest_value_of_a_stage_is_the_one_that_counts()
    {
        var beam = await BeamAsync(pieces: 3, shop: _scene.Dunlin, kind: "radius");
        foreach (var piece in beam.Pieces)
        {
            await WriteAsync(beam, piece, "tack", 600m);
            await WriteAsync(beam, piece, "tack", 640.5m);
            await WriteAsync(beam, piece, "as welded", 700m);
            await WriteAsync(beam, piece, "as welded", 640.0m);
        }

        var shift = Assert.Single(await ListAsync(_scene.Tom), row => row.Shift.Kind == "radius").Shift;
        Assert.Equal(-0.5, shift.Learned!.Mean, 0.001);
        Assert.True(shift.Used);
    }

    [Fact]
    public async Task The_build_shop_sees_every_shop_a_shop_only_itself_and_a_coater_none()
    {
        foreach (var (shop, later) in new[] { (_scene.HolmLane, 3601m), (_scene.Dunlin, 3599m) })
        {
            var beam = await BeamAsync(pieces: 3, shop, "angle", "deg");
            foreach (var piece in beam.Pieces)
            {
                await WriteAsync(beam, piece, "tack", 3600m);
                await WriteAsync(beam, piece, "as welded", later + 1800);
            }
        }

        Assert.Equal([_scene.HolmLane, _scene.Dunlin], (await ListAsync(_scene.Mara)).Where(row => row.Shift.Angle).Select(row => row.Shift.ShopId).OrderBy(id => id == _scene.Dunlin));
        Assert.All(await ListAsync(_scene.Ida), row => Assert.Equal((_scene.HolmLane, "Saltmarsh Works"), (row.Shift.ShopId, row.Owner)));
        Assert.All(await ListAsync(_scene.Tom), row => Assert.Equal(_scene.Dunlin, row.Shift.ShopId));
        // Half a degree and one second: angles are said in degrees.
        Assert.Equal(0.5 + (1 / 3600.0), Assert.Single(await ListAsync(_scene.Ida), row => row.Shift.Angle).Shift.Learned!.Mean, 0.001);
        Assert.Empty(await ListAsync(_scene.Wren));
        using var coater = await portal.SignInAsync("wren@teal.example");
        Assert.Equal(System.Net.HttpStatusCode.Forbidden, (await coater.GetAsync("/shifts")).Status);
    }

    private Task<IReadOnlyList<ListShifts.Row>> ListAsync(Actor actor) => new ListShifts.Handler(_scene.Database).HandleAsync(actor, Cancellation);

    private async Task<int> WarnAsync(Guid report)
    {
        await using var connection = await _scene.Sources.Jobs.OpenConnectionAsync(Cancellation);
        return await ShiftWarnings.ApplyAsync(connection, null, report, _scene.Clock.GetUtcNow(), Cancellation);
    }

    private sealed record Beam(IReadOnlyList<Guid> Lengths, Guid Order, IReadOnlyList<Guid> Pieces)
    {
        public Guid Length => Lengths[0];
    }

    /// <summary>A beam with one dimension or some alike, 640 ±0.8 or 1° ±0.8°, checked at tack and as welded; its pieces are tacked.</summary>
    private async Task<Beam> BeamAsync(int pieces, Guid? shop = null, string kind = "length", string unit = "mm", int balloons = 1)
    {
        var revision = Guid.CreateVersion7();
        var lengths = Enumerable.Range(0, balloons).Select(_ => Guid.CreateVersion7()).ToArray();
        const string Sql = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, 'beam', now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, 'beam', now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @By);
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            select id, @Saltmarsh, @revision, balloon, @kind, '640 ±0.8', @unit, 640, 639.2, 640.8, 'stated', 'minor', '{tack,as welded,receiving}', 'before coating', 1, 'simple'
            from unnest(@lengths) with ordinality as one (id, balloon);
            update revision set released_at = now(), released_by = @By where id = @revision
            """;
        await using (var owner = await _scene.OwnerAsync())
            await owner.ExecuteAsync(Sql, new { revision, lengths, kind, unit, _scene.Saltmarsh, By = _scene.Mara.PersonId, part = Guid.CreateVersion7(), drawing = Guid.CreateVersion7(), number = $"B-{revision}" });
        var created = Assert.IsType<CreateWorkOrder.Outcome.Created>(await new CreateWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(
            _scene.Ned, new CreateWorkOrder.Request(shop ?? _scene.HolmLane, "PO", null, [_scene.Line(revision, pieces)]), Cancellation));
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Ned, new(created.Id, 1), Cancellation));
        return new Beam(lengths, created.Id, await _scene.PiecesAsync(created.Id));
    }

    /// <summary>A report with one value, written past the handlers, a minute after the last.</summary>
    private async Task<Guid> WriteAsync(Beam beam, Guid piece, string stage, decimal value)
    {
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var report = await _scene.ReportAsync(piece, stage, "conforms");
        const string Sql = """
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, verdict)
            values (@report, @Order, @Length, 1, @value, 'mm', @value::text, 'conforms')
            """;
        await using var owner = await _scene.OwnerAsync();
        await owner.ExecuteAsync(Sql, new { report, beam.Order, beam.Length, value });
        return report;
    }

    private async Task<Guid> SubmitAsync(Beam beam, Guid piece, params decimal[] values)
    {
        _scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var outcome = await new SubmitReport.Handler(_scene.Database, _scene.Clock).HandleAsync(
            _scene.Ida,
            new SubmitReport.Request(
                "tack",
                [new SubmitReport.PieceValues(piece, [.. beam.Lengths.Zip(values, (length, value) => new SubmitReport.Value(length, 1, value, "mm", $"{value}", null, "", ""))])],
                null,
                Guid.CreateVersion7()),
            Cancellation);
        return Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports).ReportId;
    }
}
