using FabLink.Engineering.Sampling;

namespace FabLink.Portal.Features.Calculations;

/// <summary>AQL in percent nonconforming. With a limiting fraction the zero-acceptance plan for the same lot is told as well.</summary>
public sealed record SamplingPlanQuestion
{
    public int? Lot { get; init; }

    /// <summary>S-1 to S-4, I, II (unless stated), III.</summary>
    public string? Level { get; init; }

    public decimal? Aql { get; init; }

    /// <summary>normal.</summary>
    public string? Inspection { get; init; }

    /// <summary>minor or major; a critical characteristic is never sampled.</summary>
    public string? Importance { get; init; }

    /// <summary>From which fraction nonconforming on a lot is bad, 0 to 1.</summary>
    public double? LimitingFraction { get; init; }

    /// <summary>Largest probability to accept a bad lot; 0.10 unless stated.</summary>
    public double? Risk { get; init; }
}

public sealed record SamplingPlanReply(
    string CodeLetter, string PlanLetter, int SampleSize, int Accept, int Reject, ZeroAcceptanceReply? ZeroAcceptance,
    IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

/// <summary>Inspect so many, accept only if all conform; risk is the exact probability that the bad lot passes.</summary>
public sealed record ZeroAcceptanceReply(int SampleSize, int Nonconforming, double Risk);

/// <summary>A plan, and the lot with its nonconforming pieces, or the fraction nonconforming of a process (0 to 1).</summary>
public sealed record OperatingCurveTwinQuestion(int? SampleSize, int? Accept, int? Lot, int? Nonconforming, double? Fraction);

internal static class SamplingTwins
{
    public static SamplingPlanReply Plan(SamplingPlanQuestion question)
    {
        var importance = Words.ImportanceOf(question.Importance);
        var lot = Words.Needed(question.Lot, "lot");
        var plan = SamplingPlans.Find(lot, question.Level ?? "II", Words.Needed(question.Aql, "aql"), question.Inspection ?? "normal", importance);
        var zero = question.LimitingFraction is { } fraction ? ZeroAcceptance.Find(lot, fraction, question.Risk ?? 0.10, importance) : null;
        return new(
            plan.CodeLetter, plan.PlanLetter, plan.SampleSize, plan.Accept, plan.Reject,
            zero is null ? null : new(zero.SampleSize, zero.Nonconforming, zero.Risk),
            [.. plan.Sources, .. zero?.Sources ?? []], [.. plan.Cautions, .. zero?.Cautions ?? []]);
    }

    public static OperatingCurveAnswer Curve(OperatingCurveTwinQuestion question) =>
        OperatingCurve.Calculate(new OperatingCurveQuestion(Words.Needed(question.SampleSize, "sampleSize"), Words.Needed(question.Accept, "accept"))
        {
            Lot = question.Lot,
            Nonconforming = question.Nonconforming,
            Fraction = question.Fraction,
        });
}
