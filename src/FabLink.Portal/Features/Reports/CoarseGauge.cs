using FabLink.Engineering.Gauging;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Instruments;

namespace FabLink.Portal.Features.Reports;

/// <summary>
/// A measurement too coarse for its tolerance: tolerance over twice the expanded uncertainty is below the floor of 4 (common practice). Said while
/// a person still has the part on the table, not only on the report.
/// </summary>
public sealed record CoarseGauge(string Balloon, string Requirement, string Instrument, decimal Ratio)
{
    public string Text => $"Balloon {Balloon}, {Requirement}: tolerance / 2U is {Ratio:0.0}{(Instrument.Length > 0 ? $" with {Instrument}" : "")}, {GaugeCheck.LowestRatio} is the floor";

    /// <summary>Null when it is fine enough, or nothing is known about it.</summary>
    public static decimal? RatioOf(decimal? width, decimal? expandedUncertainty) =>
        width is { } tolerance && expandedUncertainty is > 0 and var u && tolerance / (2 * u) is var ratio && ratio < GaugeCheck.LowestRatio ? ratio : null;

    public static IReadOnlyList<CoarseGauge> Of(
        InstrumentBook instruments, IEnumerable<SubmitReport.Value> values, IReadOnlyList<Characteristic> asked)
    {
        var byId = asked.Where(row => row.IsMeasured).ToDictionary(row => row.Id);
        return
        [
            .. from value in values
               where byId.ContainsKey(value.CharacteristicId)
               let row = byId[value.CharacteristicId]
               let ratio = RatioOf(row.Limits.Width, instruments.Complete(value).ExpandedUncertainty)
               where ratio is not null
               select new CoarseGauge(row.NameOf(value.Instance), row.Requirement, value.Instrument.Trim(), ratio.Value),
        ];
    }

    /// <summary>Before anything is typed the nominal stands for the value, so that the choice of the instrument answers at once.</summary>
    public static IReadOnlyList<CoarseGauge> Of(
        InstrumentBook instruments, KeepDraft.Draft draft, string instrument, IReadOnlyList<Characteristic> asked)
    {
        var typed = TypedValues.Read(asked, draft with { Instrument = instrument }).Values;
        var open = from row in asked
                   where row.IsMeasured && typed.All(value => value.CharacteristicId != row.Id)
                   select new SubmitReport.Value(row.Id, 1, row.Nominal ?? row.UpperLimit ?? row.LowerLimit, row.Unit, "", null, instrument, "");
        return Of(instruments, typed.Concat(open), asked);
    }
}
