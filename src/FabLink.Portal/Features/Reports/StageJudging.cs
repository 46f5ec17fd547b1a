using FabLink.Engineering.Judging;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Reports;

/// <summary>
/// How a piece stands at a stage: the newest value of each instance counts, whichever report it came with; the history stays.
/// </summary>
public static class StageJudging
{
    /// <summary>A value as it stands in the record; attributes are 1 (go) or 0 (no go).</summary>
    public sealed record StandingRow(
        Guid PieceId, Guid CharacteristicId, short Instance, decimal? Value, decimal? ExpandedUncertainty, string Unit, string Typed, string Instrument, DateTimeOffset SubmittedAt)
    {
        public static StandingRow Of(Guid piece, SubmitReport.Value value) =>
            new(piece, value.CharacteristicId, (short)value.Instance, value.Number, value.ExpandedUncertainty, value.Unit, value.Typed, value.Instrument, DateTimeOffset.MaxValue);
    }

    private const string Standing = """
        select distinct on (r.piece_id, v.characteristic_id, v.instance) r.piece_id, v.characteristic_id, v.instance, v.value, v.expanded_uncertainty, v.unit, v.typed, v.instrument, r.submitted_at
        from report r join measured_value v on v.report_id = r.id
        where r.piece_id = any(@pieces) and r.stage = @stage
        order by r.piece_id, v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        """;

    public static async Task<ILookup<Guid, StandingRow>> StandingAsync(Work work, Guid[] pieces, string stage) =>
        (await work.RowsAsync<StandingRow>(Standing, new { pieces, stage })).ToLookup(row => row.PieceId);

    /// <summary>The day up to which a concession covers what was found on a piece at the stage; pieces without one are not in it.</summary>
    public static async Task<IReadOnlyDictionary<Guid, DateTimeOffset>> ConcededAsync(Work work, Guid[] pieces, string stage) =>
        (await work.RowsAsync<ConcededRow>("select * from (select piece_id, conceded_at(piece_id, @stage) as at from unnest(@pieces) piece_id) c where at is not null", new { pieces, stage }))
            .ToDictionary(row => row.PieceId, row => row.At);

    private sealed record ConcededRow(Guid PieceId, DateTimeOffset At);

    /// <summary>What one revision asks for at a stage, made ready once for all of its pieces.</summary>
    public sealed class Asked(IReadOnlyList<Characteristic> rows)
    {
        private readonly Dictionary<Guid, (Characteristic Row, RequiredCharacteristic Required)> _all = rows.ToDictionary(row => row.Id, row => (row, ReleasedRequirement.Of(row)));

        public IReadOnlyList<Characteristic> Rows => rows;

        /// <summary>The balloon as judgements name it; null for what the stage does not ask.</summary>
        public string? BalloonOf(Guid characteristic) => _all.TryGetValue(characteristic, out var one) ? one.Required.Balloon : null;

        /// <summary>
        /// Judges what stands, oldest first; characteristics that the stage no longer asks for are passed over, and those of an excused class are judged
        /// where they were measured but not missed.
        /// </summary>
        public ReportJudgement Judge(IEnumerable<StandingRow> values, IEnumerable<Excused.Row> excused)
        {
            var classes = excused.Select(row => row.Class).ToHashSet();
            return ReportJudging.Judge(
                [.. _all.Values.Select(one => classes.Contains(one.Row.Class) ? one.Required with { IsRequired = false } : one.Required)],
                [.. values.Where(value => _all.ContainsKey(value.CharacteristicId)).Select(Measured)]);
        }

        private MeasuredValue Measured(StandingRow value)
        {
            var (row, required) = _all[value.CharacteristicId];
            return row.IsMeasured
                ? new MeasuredValue(required.Balloon, value.Instance, value.Value) { ExpandedUncertainty = value.ExpandedUncertainty }
                : new MeasuredValue(required.Balloon, value.Instance, null) { Passes = value.Value == 1 };
        }
    }

    /// <summary>
    /// Positions measured earlier whose size is among these values: the size changes their bonus, so their verdict is written anew with it.
    /// The newest row of a value is always the verdict that stands.
    /// </summary>
    public static IEnumerable<SubmitReport.Value> JudgedAgain(
        IReadOnlyList<Characteristic> asked, IEnumerable<StandingRow> standing, IReadOnlyList<SubmitReport.Value> values)
    {
        var positions = asked.Where(row => row.SizeBalloon is not null).ToDictionary(row => row.Id);
        if (positions.Count == 0)
            return [];
        var sizes = asked.ToDictionary(row => row.Balloon);
        var given = values.Select(value => (value.CharacteristicId, value.Instance)).ToHashSet();
        return from row in standing
               where positions.ContainsKey(row.CharacteristicId) && !given.Contains((row.CharacteristicId, row.Instance))
               let size = sizes.GetValueOrDefault(positions[row.CharacteristicId].SizeBalloon!.Value)
               where size is not null && given.Contains((size.Id, size.Count == 1 ? 1 : row.Instance))
               select new SubmitReport.Value(
                   row.CharacteristicId, row.Instance, row.Value, row.Unit, row.Typed, row.ExpandedUncertainty, row.Instrument,
                   "measured before; judged again with the size of this report");
    }
}
