using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Reports;

/// <summary>The instruments of the actor's organisation, by name; a value that names one takes its uncertainty where it has none of its own.</summary>
public sealed class Instruments
{
    private readonly Dictionary<string, Row> _byName;

    private Instruments(IEnumerable<Row> rows) =>
        _byName = rows.ToDictionary(row => row.Name, StringComparer.OrdinalIgnoreCase);

    public sealed record Row(
        Guid Id, string Name, string Kind, string Unit, decimal Resolution, decimal Uncertainty, decimal UncertaintyPerMetre, DateOnly? CalibrationDue);

    public IReadOnlyCollection<Row> All => _byName.Values;

    public static async Task<Instruments> OfAsync(Work work)
    {
        const string Select = """
            select id, name, kind, unit, resolution, uncertainty, uncertainty_per_metre, calibration_due
            from instrument where organisation_id = @OrganisationId and withdrawn_at is null order by name
            """;
        return new Instruments(await work.RowsAsync<Row>(Select, new { work.Actor.OrganisationId }));
    }

    public Row? Find(string name) => _byName.GetValueOrDefault(name.Trim());

    /// <summary>The value with the uncertainty it will be judged with.</summary>
    public SubmitReport.Value Complete(SubmitReport.Value value) =>
        value.ExpandedUncertainty is null && value.Number is { } number && Find(value.Instrument) is { } instrument
        && Units.TryParse(value.Unit, out var unit) && Units.IsAngle(unit) == (instrument.Unit == "deg")
            ? value with { ExpandedUncertainty = UncertaintyAt(instrument, number) }
            : value;

    /// <summary>U in base units: a fixed part and, for lengths, a part per metre measured.</summary>
    public static decimal UncertaintyAt(Row instrument, decimal number) =>
        instrument.Unit == "deg"
            ? Units.ToBase(instrument.Uncertainty, Engineering.Quantities.Unit.Degree)
            : instrument.Uncertainty + instrument.UncertaintyPerMetre * Math.Abs(number) / 1000m;
}
