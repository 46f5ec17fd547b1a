namespace FabLink.Engineering.Chains;

/// <summary>One size or direction: exact (nominal alone), as drawn (with deviations), or measured. Lengths share one unit,
/// directions are in degrees.</summary>
/// <param name="Nominal">As drawn; required.</param>
/// <param name="Lower">Lower deviation from the nominal.</param>
/// <param name="Upper">Upper deviation from the nominal.</param>
/// <param name="Distribution">normal, uniform or triangular between the limits, centred on their middle.</param>
/// <param name="Sigma">For normal: how many standard deviations the half tolerance is.</param>
/// <param name="Measured">The value of this piece; replaces the tolerance.</param>
/// <param name="StandardUncertainty">Of the measured value, k = 1.</param>
public record TolerancedValue(
    double? Nominal,
    double? Lower = null,
    double? Upper = null,
    string Distribution = "normal",
    double Sigma = 3,
    double? Measured = null,
    double? StandardUncertainty = null);

/// <summary>A link of a linear chain: a named value that changes the closing dimension by <paramref name="Sensitivity"/> per unit
/// (+1 where it opens the gap, −1 where it closes it).</summary>
public sealed record ChainLink(
    string Name,
    double? Nominal,
    double? Lower = null,
    double? Upper = null,
    double Sensitivity = 1,
    string Distribution = "normal",
    double Sigma = 3,
    double? Measured = null,
    double? StandardUncertainty = null)
    : TolerancedValue(Nominal, Lower, Upper, Distribution, Sigma, Measured, StandardUncertainty);
