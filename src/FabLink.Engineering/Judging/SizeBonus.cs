using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>ISO 2692: a position under a material modifier, held against its tolerance and what the measured size adds to it.</summary>
internal static class SizeBonus
{
    public const string Source = "ISO 2692; ASME Y14.5-2018: bonus from the measured size";

    /// <param name="Limits">Of the size, both sides closed.</param>
    /// <param name="Value">Base units; null when it is not measured.</param>
    /// <param name="ExpandedUncertainty">Of the value.</param>
    public sealed record Measured(Limits Limits, decimal? Value, decimal? ExpandedUncertainty);

    /// <summary>
    /// What conforms without any bonus conforms whatever the size, and what exceeds the largest bonus does not; between them the size decides,
    /// and the uncertainties of both measurements count, in squares.
    /// </summary>
    public static (ValueJudgement Judgement, decimal? Bonus) Judge(
        RequiredCharacteristic asked, MeasuredValue value, decimal? uncertainty, SizeReference reference, Measured? measured)
    {
        var stated = asked.Requirement.Limits;
        var feature = measured?.Limits is { Lower: > 0 and var lower, Upper: { } upper } ? new FeatureOfSize(lower, upper, reference.IsInternal) : null;
        decimal? bonus = feature is not null && measured!.Value is { } size ? feature.Bonus(reference.Modifier, size) : null;
        var without = With(0, uncertainty);
        if (without.Verdict == Verdict.Conforms)
            return (without, bonus);
        if (bonus is { } known)
            return (With(known, Combined(uncertainty, measured!.ExpandedUncertainty)), known);

        var most = feature is null ? without : With(feature.Upper - feature.Lower, uncertainty);
        return most.Verdict == Verdict.DoesNotConform && feature is not null
            ? (most, null)
            : (without with { Verdict = Verdict.NotProven }, null);

        ValueJudgement With(decimal added, decimal? expanded) =>
            Judging.Judge.WithProbability(new Limits(stated.Lower, stated.Upper + added), value.Value!.Value, expanded, asked.Rule, asked.Terms);
    }

    private static decimal? Combined(decimal? one, decimal? other) =>
        one is { } a && other is { } b ? DecimalMath.SquareRoot((a * a) + (b * b)) : null;
}
