namespace FabLink.Engineering.Judging;

/// <param name="Characteristic">What was asked.</param>
/// <param name="Instance">1 … count.</param>
/// <param name="Measured">The value that stands.</param>
/// <param name="Judgement">Its verdict.</param>
/// <param name="Severity">How far outside, in widths of the tolerance; orders equal verdicts.</param>
public sealed record JudgedValue(
    RequiredCharacteristic Characteristic,
    int Instance,
    MeasuredValue Measured,
    ValueJudgement Judgement,
    decimal Severity)
{
    public string Name => Characteristic.NameOf(Instance);

    /// <summary>What the measured size adds to the upper limit, base units; null without a modifier, and where the size is not measured.</summary>
    public decimal? Bonus { get; init; }
}

/// <param name="Pair">The pair.</param>
/// <param name="Instance">1 … count; both sides of a pair count alike.</param>
/// <param name="Difference">First less second, in base units; null when a side is missing.</param>
/// <param name="Judgement">Incomplete when a side is missing.</param>
public sealed record JudgedPair(MatchedPair Pair, int Instance, decimal? Difference, ValueJudgement Judgement);

/// <summary>A report as a whole. Only <see cref="Verdict.Conforms"/> passes.</summary>
/// <param name="Overall">The worst of all: does not conform, incomplete, not proven, conforms.</param>
/// <param name="Values">Worst first.</param>
/// <param name="Missing">What is required and was not measured: <c>12.3</c>.</param>
/// <param name="Pairs">Worst first.</param>
/// <param name="Sources">Standards that the limits and rules came from.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record ReportJudgement(
    Verdict Overall,
    IReadOnlyList<JudgedValue> Values,
    IReadOnlyList<string> Missing,
    IReadOnlyList<JudgedPair> Pairs,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions)
{
    public bool Passes => Overall == Verdict.Conforms;
}
