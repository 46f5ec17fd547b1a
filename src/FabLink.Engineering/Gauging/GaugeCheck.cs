using FabLink.Engineering.Judging;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Gauging;

public enum GaugeFitness
{
    /// <summary>Tolerance / (2U) is 10 or more.</summary>
    Preferred,

    /// <summary>From 4 to below 10.</summary>
    Sufficient,

    /// <summary>Below 4.</summary>
    TooCoarse,

    /// <summary>U is not known, or one side of the tolerance is open.</summary>
    Unknown,
}

/// <param name="Fitness">By the ratio.</param>
/// <param name="Ratio">Tolerance width over 2U; null when unknown or U is zero.</param>
/// <param name="ResolutionRatio">Tolerance width over the smallest step shown; null when unknown.</param>
/// <param name="Refused">Out of calibration on a critical characteristic and not overridden: the value must not be taken.</param>
/// <param name="Overridden">It would be refused, but an engineer gave a reason.</param>
/// <param name="Warnings">For the person, one sentence each; the ratio is stated.</param>
/// <param name="Sources">Where the floors come from.</param>
public sealed record GaugeAssessment(
    GaugeFitness Fitness,
    decimal? Ratio,
    decimal? ResolutionRatio,
    bool Refused,
    bool Overridden,
    IReadOnlyList<string> Warnings,
    IReadOnlyList<string> Sources);

/// <summary>Is the gauge good enough for the tolerance, and in calibration?</summary>
public static class GaugeCheck
{
    public const decimal PreferredRatio = 10;
    public const decimal LowestRatio = 4;

    private static readonly string[] Rules = ["common practice: tolerance / (2U) of 10 preferred, 4 the floor; resolution at most a tenth of the tolerance"];

    /// <param name="instrument">The instrument.</param>
    /// <param name="limits">The requirement's limits, in base units.</param>
    /// <param name="length">The measured length in mm, for an uncertainty that grows with it.</param>
    /// <param name="importance">Only a critical characteristic refuses an instrument out of calibration.</param>
    /// <param name="day">The day of the measurement.</param>
    /// <param name="overrideReason">An engineer's reason to take it all the same; blank is none.</param>
    /// <param name="ownUncertainty">U of the value itself, which comes before the instrument's.</param>
    public static GaugeAssessment Assess(
        Instrument instrument,
        in Limits limits,
        decimal length,
        Importance importance,
        DateOnly day,
        string? overrideReason = null,
        decimal? ownUncertainty = null)
    {
        var warnings = new List<string>();
        var uncertainty = ownUncertainty ?? instrument.ExpandedUncertaintyAt(length);
        var ratio = uncertainty > 0 ? limits.Width / (2 * uncertainty) : null;
        var fitness = FitnessOf(ratio, uncertainty, limits);
        if (fitness == GaugeFitness.TooCoarse)
            warnings.Add($"{instrument.Name} is too coarse: tolerance / (2U) is {ratio:0.0}, below {LowestRatio}.");
        else if (fitness == GaugeFitness.Sufficient)
            warnings.Add($"{instrument.Name}: tolerance / (2U) is {ratio:0.0}; {PreferredRatio} is preferred.");
        else if (uncertainty is null)
            warnings.Add($"{instrument.Name}: its uncertainty is not known.");
        if (ownUncertainty is null && uncertainty is not null && instrument.UncertaintyIsDefault)
            warnings.Add($"{instrument.Name}: U is the default of its kind (common practice), not its own.");

        var resolutionRatio = instrument.Resolution > 0 ? limits.Width / instrument.Resolution : null;
        if (resolutionRatio < 10)
            warnings.Add($"{instrument.Name} reads in steps of 1/{resolutionRatio:0.#} of the tolerance; a tenth or finer is needed.");

        var lapsed = !instrument.IsInCalibrationOn(day);
        if (lapsed)
        {
            warnings.Add(instrument.CalibrationDue is { } due
                ? $"{instrument.Name} is out of calibration since {due:yyyy-MM-dd}."
                : $"{instrument.Name} has no calibration on record.");
        }

        var barred = lapsed && importance == Importance.Critical;
        var overridden = barred && !string.IsNullOrWhiteSpace(overrideReason);
        return new GaugeAssessment(fitness, ratio, resolutionRatio, barred && !overridden, overridden, warnings, Rules);
    }

    private static GaugeFitness FitnessOf(decimal? ratio, decimal? uncertainty, in Limits limits) => ratio switch
    {
        >= PreferredRatio => GaugeFitness.Preferred,
        >= LowestRatio => GaugeFitness.Sufficient,
        not null => GaugeFitness.TooCoarse,
        null when uncertainty == 0 && limits.Width is not null => GaugeFitness.Preferred,
        _ => GaugeFitness.Unknown,
    };
}
