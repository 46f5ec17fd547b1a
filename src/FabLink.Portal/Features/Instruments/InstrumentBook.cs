using FabLink.Engineering.Gauging;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Instruments;

/// <summary>
/// The instruments of the actor's organisation, by name. A value that names one takes its uncertainty where it has none of its own,
/// and a critical value is refused when the instrument is out of calibration.
/// </summary>
public sealed class InstrumentBook
{
    private readonly Dictionary<string, Row> _byName;

    private InstrumentBook(IEnumerable<Row> rows) =>
        _byName = rows.ToDictionary(row => row.Name, StringComparer.OrdinalIgnoreCase);

    /// <param name="Unit">mm or deg; resolution and uncertainties are in it.</param>
    /// <param name="Uncertainty">Expanded, k = 2.</param>
    /// <param name="UncertaintyPerMetre">Added per metre measured.</param>
    public sealed record Row(
        Guid Id, string Name, string Kind, string Unit, decimal Resolution, decimal Uncertainty, decimal UncertaintyPerMetre, DateOnly? CalibrationDue, int RowVersion)
    {
        public Instrument ToInstrument() => new(Name, KindOf(Kind))
        {
            MeasuresAngles = Unit == "deg",
            Resolution = InBase(Resolution),
            Uncertainty = new InstrumentUncertainty(InBase(Uncertainty), InBase(UncertaintyPerMetre), 1000, RoundedUp: Kind == "tape"),
            CalibrationDue = CalibrationDue,
        };

        private decimal InBase(decimal number) => Units.ToBase(number, Unit == "deg" ? Engineering.Quantities.Unit.Degree : Engineering.Quantities.Unit.Millimetre);
    }

    /// <summary>The words of the trade for the kinds, with the kind that gives the defaults.</summary>
    public static IReadOnlyList<(string Word, InstrumentKind Kind)> Kinds { get; } =
    [
        ("tape", InstrumentKind.Tape),
        ("square", InstrumentKind.Square),
        ("digital level", InstrumentKind.DigitalLevel),
        ("caliper", InstrumentKind.Caliper),
        ("height gauge", InstrumentKind.HeightGauge),
        ("portable arm", InstrumentKind.PortableArm),
        ("other", InstrumentKind.Other),
    ];

    public IReadOnlyCollection<Row> All => _byName.Values;

    public static async Task<InstrumentBook> OfAsync(Work work)
    {
        const string Select = """
            select id, name, kind, unit, resolution, uncertainty, uncertainty_per_metre, calibration_due, row_version
            from instrument where organisation_id = @OrganisationId and withdrawn_at is null order by name
            """;
        return new InstrumentBook(await work.RowsAsync<Row>(Select, new { work.Actor.OrganisationId }));
    }

    public static InstrumentKind KindOf(string word) => Kinds.Where(kind => kind.Word == word).Select(kind => kind.Kind).FirstOrDefault(InstrumentKind.Other);

    public Row? Find(string name) => _byName.GetValueOrDefault(name.Trim());

    /// <summary>The value with the uncertainty it will be judged with.</summary>
    public SubmitReport.Value Complete(SubmitReport.Value value) =>
        value.ExpandedUncertainty is null && Fitting(value) is { } instrument
            ? value with { ExpandedUncertainty = instrument.ExpandedUncertaintyAt(value.Number!.Value) }
            : value;

    /// <summary>How good the named instrument is for the characteristic; null when it names none that is known.</summary>
    public GaugeAssessment? Assess(SubmitReport.Value value, Characteristic asked, DateOnly day, string? overrideReason) =>
        Fitting(value) is { } instrument
            ? GaugeCheck.Assess(instrument, asked.Limits, value.Number!.Value, ReleasedRequirement.Of(asked).Importance, day, overrideReason, value.ExpandedUncertainty)
            : null;

    private Instrument? Fitting(SubmitReport.Value value) =>
        value is { Number: not null, Instrument.Length: > 0 } && Find(value.Instrument) is { } row
        && Units.TryParse(value.Unit, out var unit) && Units.IsAngle(unit) == (row.Unit == "deg")
            ? row.ToInstrument()
            : null;
}
