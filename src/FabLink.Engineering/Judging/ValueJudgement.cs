namespace FabLink.Engineering.Judging;

/// <summary>The judgement of one value; all lengths in base units.</summary>
/// <param name="Verdict">Never <see cref="Verdict.Incomplete"/>: a single value is there.</param>
/// <param name="OffBy">How far outside the nearer limit, above zero; null inside.</param>
/// <param name="Guard">The guard that was used; null where the rule has none or U is missing.</param>
/// <param name="ConformanceProbability">That the true value is inside (JCGM 106); null without U, and where it was not asked for.</param>
/// <param name="MissingUncertainty">The rule needs U and there is none: the reason for <see cref="Verdict.NotProven"/>.</param>
public readonly record struct ValueJudgement(
    Verdict Verdict,
    decimal? OffBy,
    decimal? Guard,
    double? ConformanceProbability,
    bool MissingUncertainty);
