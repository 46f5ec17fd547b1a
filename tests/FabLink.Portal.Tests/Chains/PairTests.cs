using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Chains;

/// <summary>A left and a right arm whose pads must agree within half a degree.</summary>
public sealed class PairTests : IAsyncLifetime
{
    private readonly Scene _scene = new();

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private Parts Parts => new(_scene);

    public ValueTask InitializeAsync() => _scene.InitializeAsync();

    public ValueTask DisposeAsync() => _scene.DisposeAsync();

    [Fact]
    public async Task A_pair_is_judged_once_both_are_measured_and_both_sides_of_one_shop_see_it()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        await KeepAsync(left, right);

        await Parts.RecheckAsync(await Parts.MeasuredAsync(left, left.Angle, Degrees(31.1m), Degrees(0.1m)));
        Assert.Equal("not measured", (await StandingAsync()).Verdict);
        Assert.Empty(await OfPieceAsync(_scene.Ida, left.Pieces[0]));

        await Parts.RecheckAsync(await Parts.MeasuredAsync(right, right.Angle, Degrees(29.9m), Degrees(0.1m)));
        Assert.Equal("does not conform", (await StandingAsync()).Verdict);
        // The engineer of the build shop and the fabricator who makes both.
        Assert.Equal(2, await NoticesAsync());
        var seen = Assert.Single(await OfPieceAsync(_scene.Ida, left.Pieces[0]));
        Assert.Equal(("does not conform", Degrees(31.1m), Degrees(29.9m)), (seen.Verdict, seen.Value, seen.OtherValue));
        Assert.Equal(Degrees(29.9m), Assert.Single(await OfPieceAsync(_scene.Ida, right.Pieces[0])).Value);

        var corrected = await Parts.MeasuredAsync(left, left.Angle, Degrees(30.1m), Degrees(0.1m));
        await Parts.RecheckAsync(corrected);
        await Parts.RecheckAsync(corrected);
        // 0.2° within 0.5°, U of the difference 0.14°: guarded, it conforms.
        Assert.Equal("conforms", (await StandingAsync()).Verdict);
        Assert.Equal("conforms", Assert.Single(await OfPieceAsync(_scene.Mara, left.Pieces[0])).Verdict);
        Assert.Equal(2, await _scene.AskAsync<long>("select count(*) from pair_check"));
        Assert.Equal(2, await NoticesAsync());
    }

    [Fact]
    public async Task A_shop_that_makes_one_side_only_learns_nothing_of_the_other()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R", _scene.Dunlin));
        await KeepAsync(left, right);
        await Parts.MeasuredAsync(left, left.Angle, Degrees(31.1m), Degrees(0.1m));
        await Parts.RecheckAsync(await Parts.MeasuredAsync(right, right.Angle, Degrees(29.9m), Degrees(0.1m)));

        Assert.Single(await OfPieceAsync(_scene.Mara, left.Pieces[0]));
        Assert.Empty(await OfPieceAsync(_scene.Ida, left.Pieces[0]));
        Assert.Empty(await OfPieceAsync(_scene.Tom, right.Pieces[0]));
        Assert.Equal(1, await NoticesAsync());
        foreach (var actor in new[] { _scene.Ida, _scene.Tom, _scene.Wren })
        {
            await using var work = await _scene.Database.BeginAsync(actor, Cancellation);
            Assert.Equal(0, await work.ValueAsync<long>("select (select count(*) from pair) + (select count(*) from pair_check) + (select count(*) from chain)"));
        }
    }

    [Fact]
    public async Task Without_an_uncertainty_a_guarded_pair_is_not_proven_and_a_simple_one_is_judged_at_its_limit()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        await Parts.MeasuredAsync(left, left.Angle, Degrees(30.5m));
        await Parts.MeasuredAsync(right, right.Angle, Degrees(30m));

        await KeepAsync(left, right);
        Assert.True((await StandingAsync()).MissingUncertainty);
        await KeepAsync(left, right, "simple", "exactly");
        Assert.Equal("conforms", (await StandingAsync("exactly")).Verdict);
        await KeepAsync(left, right, "simple", "tighter", "0,49");
        Assert.Equal("does not conform", (await StandingAsync("tighter")).Verdict);
    }

    [Fact]
    public async Task A_pair_that_is_taken_out_is_shown_to_nobody_any_more()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        var id = await KeepAsync(left, right);
        await Parts.MeasuredAsync(left, left.Angle, Degrees(30.1m), Degrees(0.1m));
        await Parts.RecheckAsync(await Parts.MeasuredAsync(right, right.Angle, Degrees(30m), Degrees(0.1m)));
        Assert.Single(await OfPieceAsync(_scene.Ida, left.Pieces[0]));

        Assert.Equal(_scene.Build, await new KeepPair.Handler(_scene.Database, _scene.Clock).RemoveAsync(_scene.Mara, id, Cancellation));
        await Parts.RecheckAsync(build: _scene.Build);
        await Parts.RecheckAsync(build: _scene.Build);

        Assert.Empty(await OfPieceAsync(_scene.Ida, left.Pieces[0]));
        Assert.Equal(2, await _scene.AskAsync<long>("select count(*) from pair_check"));
    }

    // 0°20' is 1200 seconds of arc.
    [Theory]
    [InlineData("0°20'", 1200, "0°20'")]
    [InlineData("20′", 1200, "0°20'")]
    [InlineData("0,5", 1800, "0.5")]
    [InlineData("0°30'", 1800, "0.5")]
    public async Task An_angle_is_agreed_within_as_drawings_write_it(string typed, int within, string again)
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        var id = await KeepAsync(left, right, within: typed);
        Assert.Equal(within, await _scene.AskAsync<decimal>("select within from pair where id = @id", new { id }));
        Assert.Equal(again, (await new PairForm.Handler(_scene.Database).EditAsync(_scene.Mara, id, Cancellation))!.Request.Within);
    }

    [Fact]
    public async Task A_dimension_of_a_guarded_pair_is_asked_for_its_uncertainty()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        async Task<IEnumerable<int>> AskedAsync() =>
            await new MeasurePage.Handler(_scene.Database).PieceAsync(_scene.Mara, left.Pieces[0], "tack", Cancellation) is { } entry
                ? entry.Characteristics.Where(entry.NeedsUncertainty).Select(row => row.Balloon)
                : throw new InvalidOperationException("It cannot be measured.");

        await KeepAsync(left, right, "simple", "exactly");
        Assert.Empty(await AskedAsync());
        await KeepAsync(left, right);
        Assert.Equal([2], await AskedAsync());
    }

    [Fact]
    public async Task What_is_no_pair_is_refused_by_its_field()
    {
        var (left, right) = (await Parts.OrderedAsync("L"), await Parts.OrderedAsync("R"));
        async Task<string> FieldAsync(string first, string second, string within = "0.5", string rule = "simple", string name = "p") =>
            Assert.Single(Assert.IsType<KeepOutcome.Wrong>(await new KeepPair.Handler(_scene.Database, _scene.Clock).HandleAsync(
                _scene.Mara, new KeepPair.Request(_scene.Build, null, 0, name, first, second, within, rule), Cancellation)).Problems).Field;

        Assert.Equal("Right", await FieldAsync($"{left.Number} 2", $"{right.Number} 1"));
        Assert.Equal("Right", await FieldAsync($"{left.Number} 2", $"{left.Number} 2"));
        Assert.Equal("Left", await FieldAsync("620 ±1", $"{right.Number} 1"));
        Assert.Equal("Left", await FieldAsync("", $"{right.Number} 1"));
        Assert.Equal("Within", await FieldAsync($"{left.Number} 2", $"{right.Number} 2", "0"));
        Assert.Equal("Within", await FieldAsync($"{left.Number} 2", $"{right.Number} 2", "half"));
        Assert.Equal("Within", await FieldAsync($"{left.Number} 2", $"{right.Number} 2", "0°20"));
        Assert.Equal("Within", await FieldAsync($"{left.Number} 1", $"{right.Number} 1", "0°20'"));
        Assert.Equal("Rule", await FieldAsync($"{left.Number} 2", $"{right.Number} 2", rule: "lenient"));
        Assert.Equal("Name", await FieldAsync($"{left.Number} 2", $"{right.Number} 2", name: " "));
    }

    private static decimal Degrees(decimal value) => value * 3600;

    private async Task<Guid> KeepAsync(Parts.Made left, Parts.Made right, string rule = "guarded", string name = "pad angles", string within = "0.5") =>
        Assert.IsType<KeepOutcome.Kept>(await new KeepPair.Handler(_scene.Database, _scene.Clock).HandleAsync(
            _scene.Mara, new KeepPair.Request(_scene.Build, null, 0, name, $"{left.Number} 2", $"{right.Number} 2", within, rule), Cancellation)).Id;

    private async Task<PairStanding> StandingAsync(string name = "pad angles") =>
        Assert.Single((await new ShowChains.Handler(_scene.Database).OfBuildAsync(_scene.Mara, _scene.Build, Cancellation))!.Pairs, pair => pair.Pair.Name == name);

    private async Task<IReadOnlyList<PairsOfPiece.Row>> OfPieceAsync(Actor actor, Guid piece) =>
        (await new ShowPiece.Handler(_scene.Database).HandleAsync(actor, piece, Cancellation))!.Pairs;

    private Task<long> NoticesAsync() => _scene.AskAsync<long>("select count(*) from notice where kind = 'pair'");
}
