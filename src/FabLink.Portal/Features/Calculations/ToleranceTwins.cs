using FabLink.Engineering;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Portal.Features.Calculations;

/// <summary>Standard, class and kind as the standards name them; size in mm, for angles the shorter leg.</summary>
public sealed record GeneralToleranceQuestion(string? Standard, string? Class, string? Kind, decimal? Size);

/// <summary>Deviation ± for sizes (mm) and angles (°), total width for form; offset is ± mm at the end of the leg (ISO 13920 angles).</summary>
public sealed record GeneralToleranceReply(
    decimal Deviation, string Unit, bool IsTotal, decimal? Offset, IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

/// <summary>A size in mm with one class or two: <c>50 H7/p6</c>.</summary>
public sealed record FitQuestion(string? Fit);

/// <summary>Limits in mm.</summary>
public sealed record LimitsReply(decimal Lower, decimal Upper);

/// <summary>Limits and clearances in mm; interference is a negative clearance.</summary>
public sealed record FitReply(
    decimal Size, LimitsReply? Hole, LimitsReply? Shaft, decimal? MinimumClearance, decimal? MaximumClearance,
    IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

internal static class ToleranceTwins
{
    public static GeneralToleranceReply GeneralTolerance(GeneralToleranceQuestion question)
    {
        var size = Words.Needed(question.Size, "size");
        if (size > 1_000_000)
            throw new InputError("size", $"{size} mm is outside every table.");
        var found = GeneralTolerances.Find(
            Words.Needed(question.Standard, "standard"), Words.Needed(question.Class, "class"), Words.Needed(question.Kind, "kind"), size);
        return new(found.Deviation, Units.Symbol(found.Unit), found.IsTotal, found.Offset, found.Sources, found.Cautions);
    }

    public static FitReply Fit(FitQuestion question)
    {
        var fit = Fits.Calculate(Words.Needed(question.Fit, "fit"));
        return new(fit.Size, Reply(fit.Hole), Reply(fit.Shaft), fit.MinimumClearance, fit.MaximumClearance, fit.Sources, fit.Cautions);
    }

    private static LimitsReply? Reply(Limits? limits) => limits is { Lower: { } lower, Upper: { } upper } ? new(lower, upper) : null;
}
