using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Reports;

/// <summary>What is critical is measured with an instrument in calibration, or an engineer says why not (common practice; ISO 9001:2015, 7.1.5.2).</summary>
public sealed class CalibrationTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task An_instrument_out_of_calibration_is_refused_on_what_is_critical_unless_an_engineer_says_why()
    {
        var flange = await Flange.TackedAsync(scene);
        await KeepAsync(scene.HolmLane, "late arm");
        await KeepAsync(scene.Saltmarsh, "late arm");
        Assert.Contains("not in calibration", Assert.IsType<SubmitReport.Outcome.Refused>(await SendAsync(flange, scene.Ida, "Late arm")).Why, StringComparison.Ordinal);
        Assert.IsType<SubmitReport.Outcome.Refused>(await SendAsync(flange, scene.Ida, "late arm", "It was fine yesterday."));
        Assert.IsType<SubmitReport.Outcome.Refused>(await SendAsync(flange, scene.Mara, "late arm"));
        Assert.Equal(0, await flange.OfPieceAsync<long>("select count(*) from report where piece_id = @Piece"));

        Assert.IsType<SubmitReport.Outcome.Accepted>(await SendAsync(flange, scene.Mara, "late arm", "Checked against the height gauge."));
        Assert.Contains("Checked against the height gauge.", await flange.OfPieceAsync<string>("select note from report where piece_id = @Piece"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_in_no_book_is_said_of_critical_values_where_a_book_is_kept()
    {
        var flange = await Flange.TackedAsync(scene);
        await scene.AskAsync<object>("delete from instrument");
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SendAsync(flange, scene.Ida, "my old ruler"));
        await KeepAsync(scene.HolmLane, "arm 9");
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SendAsync(flange, scene.Ida, "my old ruler"));
        Assert.Equal(
            "|Critical dimensions measured with what is in no book of instruments, its calibration not known: my old ruler.",
            await flange.OfPieceAsync<string>("select string_agg(note, '|' order by submitted_at, id) from report where piece_id = @Piece"));
    }

    /// <summary>Due long ago.</summary>
    private Task<object?> KeepAsync(Guid organisation, string name) => scene.AskAsync<object>(
        "insert into instrument (id, organisation_id, name, kind, unit, resolution, uncertainty, calibration_due) values (gen_random_uuid(), @organisation, @name, 'portable arm', 'mm', 0.01, 0.05, '2020-01-01')",
        new { organisation, name });

    private Task<SubmitReport.Outcome> SendAsync(Flange flange, Actor actor, string instrument, string? reason = null) =>
        new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            actor,
            new SubmitReport.Request(
                "tack",
                [new(flange.Piece, flange.Good(Flange.Value(flange.Length, 120.1m, uncertainty: 0.05m) with { Instrument = instrument }))],
                null,
                Guid.CreateVersion7(),
                CalibrationReason: reason),
            Cancellation);
}
