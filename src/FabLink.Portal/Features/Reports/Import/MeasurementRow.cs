using FabLink.Engineering.Quantities;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>One measured value as the file has it; what it is a value of, <see cref="Matching"/> finds out.</summary>
public sealed record MeasurementRow
{
    /// <summary>As the spreadsheet numbers it.</summary>
    public required int Row { get; init; }

    public required int Balloon { get; init; }

    /// <summary>The 3 of balloon 12.3; null when only the balloon was given.</summary>
    public int? Instance { get; init; }

    /// <summary>Empty when the file does not say.</summary>
    public string Serial { get; init; } = "";

    /// <summary>Exactly what was written in the value column.</summary>
    public required string Typed { get; init; }

    /// <summary>In <see cref="Unit"/>, in arc-seconds when <see cref="IsArcSeconds"/>; null when it is not a number.</summary>
    public decimal? Number { get; init; }

    /// <summary>Written with ° ′ ″, so <see cref="Number"/> is in seconds of arc already.</summary>
    public bool IsArcSeconds { get; init; }

    /// <summary>Go or no go, when that was written; null otherwise.</summary>
    public bool? Go { get; init; }

    /// <summary>As written with the value or beside it; null when neither, then <see cref="MeasurementFile.Unit"/> counts.</summary>
    public Unit? Unit { get; init; }

    /// <summary>Expanded, as written, in <see cref="UncertaintyUnit"/>, in arc-seconds when that is degrees, minutes and seconds.</summary>
    public decimal? Uncertainty { get; init; }

    /// <summary>As written with the uncertainty; null when it carries none.</summary>
    public Unit? UncertaintyUnit { get; init; }

    public string Instrument { get; init; } = "";

    public string Note { get; init; } = "";

    /// <summary>12 or 12.3.</summary>
    public string BalloonText => Instance is { } instance ? $"{Balloon}.{instance}" : $"{Balloon}";
}
