using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Chains;

/// <summary>Two rails 1182 apart and a tube of 1180 between them: the gap must be 0.5 to 3.0.</summary>
public sealed class ChainTests : IAsyncLifetime
{
    private readonly Scene _scene = new();

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private Parts Parts => new(_scene);

    public ValueTask InitializeAsync() => _scene.InitializeAsync();

    public ValueTask DisposeAsync() => _scene.DisposeAsync();

    [Fact]
    public async Task A_chain_goes_from_as_drawn_to_as_built_as_its_links_are_measured()
    {
        var (tube, spacer) = (await Parts.OrderedAsync("T"), await Parts.OrderedAsync("S"));
        var id = await KeepAsync([new("rails", "1", "2363 ±0.3"), new("tube", "-1", $"{tube.Number} 1"), new("spacer", "-1", $"{spacer.Number} balloon 1")]);

        var drawn = await StandingAsync(id);
        Assert.Equal(("as drawn", "closes", 0), (drawn.Form, drawn.Verdict, drawn.MeasuredLinks));
        Assert.Equal(3, drawn.Now!.Expected, 1e-9);
        Assert.Same(drawn.Drawn, drawn.Now);

        await Parts.MeasuredAsync(tube, tube.Length, 1180.4m, 0.1m);
        var soFar = await StandingAsync(id);
        Assert.Equal(("as built so far", 1), (soFar.Form, soFar.MeasuredLinks));
        Assert.Equal(2.6, soFar.Now!.Expected, 1e-9);
        Assert.Equal(3, soFar.Drawn!.Expected, 1e-9);
        // Half widths of the rails and the spacer are still open.
        Assert.Equal(0.8, soFar.StillOpen, 1e-9);
        Assert.Equal("spacer", soFar.Widest!.Name);
        Assert.Equal("tube", soFar.UsedMost!.Value.Link.Name);
        Assert.Equal(-0.4, soFar.UsedMost!.Value.Moved, 1e-9);
        // The gap keeps 0.5 to 5: with rails at ±0.3 and the tube at 1180.4 ±0.1 the spacer may be 2363.3 − 1180.3 − 5 to 2362.7 − 1180.5 − 0.5.
        var room = Assert.Single(soFar.Room, one => one.Link.Name == "spacer").Room.WorstCase!;
        Assert.Equal(1178.0, room.Lower!.Value, 1e-9);
        Assert.Equal(1181.7, room.Upper!.Value, 1e-9);

        await Parts.MeasuredAsync(spacer, spacer.Length, 1179.9m, 0.1m);
        Assert.Equal("as built so far", (await StandingAsync(id)).Form);
    }

    [Fact]
    public async Task It_is_told_once_that_the_yield_falls_below_what_is_required_and_again_only_when_it_turns_again()
    {
        var (tube, other) = (await Parts.OrderedAsync("T"), await Parts.OrderedAsync("O"));
        var id = await KeepAsync([new("rails", "1", "1182 ±0.3"), new("tube", "-1", $"{tube.Number} 1")], name: "turning");
        var untouched = await KeepAsync([new("rails", "1", "1182 ±0.3"), new("other", "-1", $"{other.Number} 1")], name: "untouched");
        await Parts.RecheckAsync(build: _scene.Build);
        Assert.Equal(1, await ChecksAsync(id));

        foreach (var (value, notices, checks) in new[] { (1180.1m, 0, 2), (1181.8m, 1, 3), (1181.9m, 1, 4), (1180.0m, 1, 5), (1181.8m, 2, 6) })
        {
            var report = await Parts.MeasuredAsync(tube, tube.Length, value, 0.1m);
            await Parts.RecheckAsync(report);
            await Parts.RecheckAsync(report);
            Assert.Equal((notices, checks), ((int)await _scene.AskAsync<long>("select count(*) from notice where kind = 'chain'"), (int)await ChecksAsync(id)));
        }

        Assert.Equal(1, await ChecksAsync(untouched));
        Assert.Equal("yield too low", await _scene.AskAsync<string>("select verdict from chain_check where chain_id = @id order by ordinal desc limit 1", new { id }));
        // Mara is the one engineer; neither the buyer nor the shop is told of the build's chains.
        Assert.Equal(1, await _scene.AskAsync<long>("select count(distinct person_id) from notice where kind = 'chain'"));
    }

    [Fact]
    public async Task Two_reports_at_the_same_instant_leave_the_right_state_and_one_notice()
    {
        var (tube, spacer) = (await Parts.OrderedAsync("T"), await Parts.OrderedAsync("S"));
        var id = await KeepAsync([new("rails", "1", "2362 ±0.1"), new("tube", "-1", $"{tube.Number} 1"), new("spacer", "-1", $"{spacer.Number} 1")]);
        await Parts.RecheckAsync(build: _scene.Build);
        var reports = new[] { await Parts.MeasuredAsync(tube, tube.Length, 1180.4m, 0.1m), await Parts.MeasuredAsync(spacer, spacer.Length, 1182.4m, 0.1m) };

        await Task.WhenAll(reports.Select(report => Parts.RecheckAsync(report)));

        Assert.Equal("2", await _scene.AskAsync<string>("select answer ->> 'Measured' from chain_check where chain_id = @id order by ordinal desc limit 1", new { id }));
        Assert.Equal("yield too low", await _scene.AskAsync<string>("select verdict from chain_check where chain_id = @id order by ordinal desc limit 1", new { id }));
        Assert.Equal(1, await _scene.AskAsync<long>("select count(*) from notice where kind = 'chain'"));
    }

    [Fact]
    public async Task A_link_may_be_a_surveyed_coordinate_or_a_distance_with_its_uncertainty()
    {
        await SurveyAsync("rails");
        var id = await KeepAsync(
        [
            new("width", "1", "rails: 1 to 2 y = 1182 ±2"),
            new("diagonal", "-1", "rails: 1 to 2 distance"),
            new("edge", "1", "rails: 2 x"),
            new("shim", "1", "1182.2"),
        ]);

        var standing = await StandingAsync(id);
        // 3-4-5: 0.9 along x and 1.2 across is 1.5.
        Assert.Equal([1.2, 1.5, 10.9], standing.Links.Take(3).Select(link => Math.Round(link.Now!.Measured!.Value, 9)));
        Assert.Equal(1182, standing.Links[0].Drawn!.Nominal);
        // JCGM 100:2008, 5.1.2: U 0.1 and 0.1 of two points, k = 2.
        Assert.Equal(0.1 * Math.Sqrt(2) / 2, standing.Links[0].Now!.StandardUncertainty!.Value, 1e-9);
        Assert.Equal("as built", standing.Form);
        Assert.Equal(1.2 - 1.5 + 10.9 + 1182.2, standing.Now!.Expected, 1e-9);
    }

    // 1178.0 to 1181.7 mm as above; 1178 / 25.4 = 46.378, 1181.7 / 25.4 = 46.5236.
    [Fact]
    public async Task What_an_unmade_part_of_an_inch_drawing_may_be_is_said_in_inches_and_what_counts_as_exact_is_named()
    {
        var (tube, spacer) = (await Parts.OrderedAsync("T"), await Parts.OrderedAsync("S", unit: "in"));
        var id = await KeepAsync([new("rails", "1", "2363 ±0.3"), new("tube", "-1", $"{tube.Number} 1"), new("spacer", "-1", $"{spacer.Number} 1")]);
        await Parts.MeasuredAsync(tube, tube.Length, 1180.4m, 0.1m);
        var standing = await StandingAsync(id);
        Assert.Contains(ChainWords.Advice(standing), sentence => sentence == "Spacer, not measured yet, may be 46.378 to 46.5236 in whatever the others are.");
        Assert.Empty(ChainWords.Cautions(standing));

        await Parts.MeasuredAsync(tube, tube.Length, 1180.4m);
        standing = await StandingAsync(id);
        Assert.Equal("Measured without an uncertainty, and so counted as exact: tube.", Assert.Single(ChainWords.Cautions(standing)));
        Assert.Contains("counted as exact: tube", ChainWords.Notice(standing), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_a_link_cannot_be_is_said_by_row_and_field()
    {
        var tube = await Parts.OrderedAsync("T");
        await SurveyAsync("rails");
        var outcome = await HandleAsync(new KeepChain.Request(_scene.Build, null, 0, " ", "gap", "3", "1", "101", "x",
        [
            new("a", "1", $"{tube.Number} 9"),
            new("A", "nought", "rails: 7 x"),
            new("b", "0", "rails: 1 y2"),
            new("c", "1", "Q-1 1", "flat"),
            new("d", "1", $"{tube.Number} (2) 1"),
            new("e", "1", "620 ±"),
            new("f", "1", ""),
            new("g", "1", $"{tube.Number} 1.2"),
            new("h", "1", "rails: 1 distance"),
            new("i", "1", $"{tube.Number} 3"),
        ]));

        var problems = Assert.IsType<KeepOutcome.Wrong>(outcome).Problems.Select(problem => problem.Field).ToHashSet();
        Assert.Superset(
            new HashSet<string>
            {
                "Name", "RequiredLower", "RequiredYield", "Seed", "Links[0].From", "Links[1].Sensitivity", "Links[1].From", "Links[2].Sensitivity", "Links[2].From",
                "Links[3].From", "Links[3].Distribution", "Links[4].From", "Links[5].From", "Links[6].From", "Links[7].From", "Links[8].From", "Links[9].From",
            },
            problems);
        Assert.Contains(Assert.IsType<KeepOutcome.Wrong>(outcome).Problems, problem => problem.Message == $"Row 10: balloon 3 of {tube.Number} (max 40) has only one limit, and a chain needs both.");
        Assert.All(Assert.IsType<KeepOutcome.Wrong>(outcome).Problems.Where(problem => problem.Field.StartsWith("Links", StringComparison.Ordinal)), problem => Assert.StartsWith("Row ", problem.Message, StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_stale_change_is_told_who_came_before_and_a_second_chain_of_the_name_is_refused()
    {
        var id = await KeepAsync([new("rails", "1", "1182 ±0.3")], name: "one");
        Assert.IsType<KeepOutcome.Kept>(await HandleAsync(Request([new("rails", "1", "1183 ±0.3")], "one", id, 1)));
        var stale = Assert.IsType<KeepOutcome.Stale>(await HandleAsync(Request([new("rails", "1", "1184 ±0.3")], "one", id, 1)));
        Assert.Equal(("Mara Quill", 2), (stale.Change.By, stale.RowVersion));
        Assert.Equal("Name", Assert.Single(Assert.IsType<KeepOutcome.Wrong>(await HandleAsync(Request([new("rails", "1", "1184")], "one"))).Problems).Field);

        Assert.Equal(_scene.Build, await new KeepChain.Handler(_scene.Database, _scene.Clock).RemoveAsync(_scene.Mara, id, Cancellation));
        Assert.IsType<KeepOutcome.Kept>(await HandleAsync(Request([new("rails", "1", "1184")], "one")));
        Assert.Equal(1183, await _scene.AskAsync<decimal>("select nominal_mm from chain_link where chain_id = @id", new { id }));
    }

    [Fact]
    public async Task Neither_a_shop_nor_a_buyer_writes_chains_and_a_shop_sees_none()
    {
        var id = await KeepAsync([new("rails", "1", "1182 ±0.3")]);

        foreach (var actor in new[] { _scene.Ned, _scene.Ida })
            Assert.IsType<KeepOutcome.NotAllowed>(await new KeepChain.Handler(_scene.Database, _scene.Clock).HandleAsync(actor, Request([new("a", "1", "1")], "x"), Cancellation));
        Assert.NotNull(await new ShowChains.Handler(_scene.Database).OneAsync(_scene.Ned, id, Cancellation));
        Assert.Null(await new ShowChains.Handler(_scene.Database).OneAsync(_scene.Ida, id, Cancellation));
    }

    private async Task SurveyAsync(string name)
    {
        const string Sql = """
            insert into survey (id, owner_id, build_id, name, file_name, sha256, size, taken_at, taken_by) values (@id, @Saltmarsh, @Build, @name, 'rails.csv', repeat('a', 64), 1, now(), @By);
            insert into survey_point (survey_id, owner_id, ordinal, name, x_mm, y_mm, uncertainty_mm) values (@id, @Saltmarsh, 1, '1', 10, 20, 0.1), (@id, @Saltmarsh, 2, '2', 10.9, 21.2, 0.1)
            """;
        await _scene.AskAsync<object>(Sql, new { id = Guid.CreateVersion7(), _scene.Saltmarsh, _scene.Build, name, By = _scene.Mara.PersonId });
    }

    private KeepChain.Request Request(IReadOnlyList<KeepChain.Link> links, string name, Guid? id = null, int version = 0) =>
        new(_scene.Build, id, version, name, "gap", "0.5", links.Count == 3 ? "5" : "3", "99", "1", links);

    private Task<KeepOutcome> HandleAsync(KeepChain.Request request) => new KeepChain.Handler(_scene.Database, _scene.Clock).HandleAsync(_scene.Mara, request, Cancellation);

    private async Task<Guid> KeepAsync(IReadOnlyList<KeepChain.Link> links, string name = "rail to rail") =>
        await HandleAsync(Request(links, name)) switch
        {
            KeepOutcome.Kept kept => kept.Id,
            KeepOutcome.Wrong wrong => throw new InvalidOperationException(string.Join("\n", wrong.Problems)),
            var other => throw new InvalidOperationException($"{other}"),
        };

    private async Task<ChainStanding> StandingAsync(Guid id) => (await new ShowChains.Handler(_scene.Database).OneAsync(_scene.Mara, id, Cancellation))!.Standing;

    private Task<long> ChecksAsync(Guid id) => _scene.AskAsync<long>("select count(*) from chain_check where chain_id = @id", new { id });
}
