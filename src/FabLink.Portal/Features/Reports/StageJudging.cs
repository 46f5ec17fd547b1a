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
    public sealed record StandingRow(Guid PieceId, Guid CharacteristicId, short Instance, decimal? Value, decimal? ExpandedUncertainty);

    private const string Standing = """
        select distinct on (r.piece_id, v.characteristic_id, v.instance) r.piece_id, v.characteristic_id, v.instance, v.value, v.expanded_uncertainty
        from report r join measured_value v on v.report_id = r.id
        where r.piece_id = any(@pieces) and r.stage = @stage
        order by r.piece_id, v.characteristic_id, v.instance, r.submitted_at desc, r.id desc
        """;

    public static async Task<ILookup<Guid, StandingRow>> StandingAsync(Work work, Guid[] pieces, string stage) =>
        (await work.RowsAsync<StandingRow>(Standing, new { pieces, stage })).ToLookup(row => row.PieceId);

    /// <summary>Judges what stands, oldest first; characteristics that the stage no longer asks for are passed over.</summary>
    public static ReportJudgement Judge(IReadOnlyList<Characteristic> asked, IEnumerable<StandingRow> values)
    {
        var byId = asked.ToDictionary(row => row.Id);
        return ReportJudging.Judge(
            [.. asked.Select(row => ReleasedRequirement.Of(row))],
            [.. values.Where(value => byId.ContainsKey(value.CharacteristicId)).Select(value => ToMeasured(byId[value.CharacteristicId], value))]);
    }

    private static MeasuredValue ToMeasured(Characteristic asked, StandingRow value) =>
        asked.IsMeasured
            ? new MeasuredValue($"{asked.Balloon}", value.Instance, value.Value) { ExpandedUncertainty = value.ExpandedUncertainty }
            : new MeasuredValue($"{asked.Balloon}", value.Instance, null) { Passes = value.Value == 1 };
}
