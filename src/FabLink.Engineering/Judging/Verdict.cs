namespace FabLink.Engineering.Judging;

/// <summary>In order of precedence: the worst of several is the largest.</summary>
public enum Verdict
{
    Conforms,

    /// <summary>Measurement uncertainty straddles the limit (ISO 14253-1, JCGM 106), or is not known where the rule needs it.</summary>
    NotProven,

    /// <summary>Something required was not measured.</summary>
    Incomplete,
    DoesNotConform,
}

public enum JudgingRule
{
    /// <summary>Inside the limits, or on them, conforms.</summary>
    Simple,

    /// <summary>ISO 14253-1: the zone is shrunk by the guard for acceptance and widened by it for rejection.</summary>
    Guarded,

    /// <summary>JCGM 106: by the probability that the true value lies inside the limits.</summary>
    Probability,
}

/// <summary>How wide the guard of ISO 14253-1 is.</summary>
public enum GuardBand
{
    /// <summary>The whole expanded uncertainty (ISO 14253-1:2013).</summary>
    ExpandedUncertainty,

    /// <summary>1.645 standard uncertainties, 95 % one-sided (ISO 14253-1:2017).</summary>
    NinetyFivePercent,
}
