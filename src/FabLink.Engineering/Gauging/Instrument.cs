using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Gauging;

public enum InstrumentKind
{
    Tape,
    Square,
    DigitalLevel,
    Caliper,
    HeightGauge,
    PortableArm,
    Other,
}

/// <summary>An instrument of an organisation: what it is, how fine it reads, how far it can be trusted and until when.</summary>
/// <param name="Name">As it is marked.</param>
/// <param name="Kind">Gives the defaults.</param>
public sealed record Instrument(string Name, InstrumentKind Kind)
{
    /// <summary>Smallest step it shows, in base units; null when not stated.</summary>
    public decimal? Resolution { get; init; }

    /// <summary>k = 2; null when not known.</summary>
    public InstrumentUncertainty? Uncertainty { get; init; }

    /// <summary>The last day it may be used; null when it is not calibrated at all.</summary>
    public DateOnly? CalibrationDue { get; init; }

    /// <summary>Does it measure angles (base arc-seconds) rather than lengths?</summary>
    public bool MeasuresAngles { get; init; }

    /// <summary>Is the uncertainty the trade's default rather than this instrument's own?</summary>
    public bool UncertaintyIsDefault { get; init; }

    /// <summary>
    /// The trade's defaults (common practice): class II tape 0.3 mm + 0.2 mm per started metre, square 0.2 mm per 300 mm, digital level 0.2°,
    /// caliper 0.03 mm, height gauge 0.05 mm, portable arm 0.1 mm; other kinds have none.
    /// </summary>
    public static Instrument Default(string name, InstrumentKind kind) => new(name, kind)
    {
        MeasuresAngles = kind == InstrumentKind.DigitalLevel,
        UncertaintyIsDefault = kind != InstrumentKind.Other,
        Uncertainty = kind switch
        {
            InstrumentKind.Tape => new InstrumentUncertainty(0.3m, 0.2m, 1000, RoundedUp: true),
            InstrumentKind.Square => new InstrumentUncertainty(0, 0.2m, 300),
            InstrumentKind.DigitalLevel => new InstrumentUncertainty(Units.ToBase(0.2m, Unit.Degree)),
            InstrumentKind.Caliper => new InstrumentUncertainty(0.03m),
            InstrumentKind.HeightGauge => new InstrumentUncertainty(0.05m),
            InstrumentKind.PortableArm => new InstrumentUncertainty(0.1m),
            _ => null,
        },
        Resolution = kind switch
        {
            InstrumentKind.Tape => 1m,
            InstrumentKind.DigitalLevel => Units.ToBase(0.1m, Unit.Degree),
            InstrumentKind.Caliper or InstrumentKind.HeightGauge => 0.01m,
            _ => null,
        },
    };

    /// <summary>U for a measured length in mm (or any angle); null when it is not known.</summary>
    public decimal? ExpandedUncertaintyAt(decimal length) => Uncertainty?.At(MeasuresAngles ? 0 : length);

    public bool IsInCalibrationOn(DateOnly day) => CalibrationDue is { } due && day <= due;
}
