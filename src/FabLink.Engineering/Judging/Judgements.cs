using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>One value and one requirement, as a person writes them.</summary>
/// <param name="Requirement"><c>12 ±0.1</c></param>
/// <param name="Unit">Of its numbers when they carry none.</param>
/// <param name="Value">A number or D M S in <paramref name="ValueUnit"/>.</param>
/// <param name="ValueUnit">Of the value and its uncertainty.</param>
public sealed record JudgeQuestion(string Requirement, Unit Unit, string Value, Unit ValueUnit)
{
    /// <summary>In <see cref="ValueUnit"/>; null when unknown.</summary>
    public string? ExpandedUncertainty { get; init; }

    public JudgingRule Rule { get; init; } = JudgingRule.Simple;

    public JudgingTerms Terms { get; init; } = JudgingTerms.Default;

    /// <summary>The drawing's general tolerance, for a requirement without one of its own.</summary>
    public GeneralTolerance? General { get; init; }
}

/// <summary>All numbers in the requirement's unit.</summary>
/// <param name="Verdict">Of the value.</param>
/// <param name="Requirement">As understood.</param>
/// <param name="Unit">The requirement's unit; D M S counts as decimal degrees.</param>
/// <param name="Lower">Lower limit, null when open.</param>
/// <param name="Upper">Upper limit, null when open.</param>
/// <param name="Value">As understood.</param>
/// <param name="Deviation">Value less nominal; null when there is no nominal.</param>
/// <param name="OffBy">How far outside the nearer limit; null inside.</param>
/// <param name="Guard">Null where the rule has none.</param>
/// <param name="ConformanceProbability">Null without U.</param>
/// <param name="Sources">Standards.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record JudgeAnswer(
    Verdict Verdict,
    Requirement Requirement,
    Unit Unit,
    decimal? Lower,
    decimal? Upper,
    decimal Value,
    decimal? Deviation,
    decimal? OffBy,
    decimal? Guard,
    double? ConformanceProbability,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>Judging from text, for whoever wants to check one number.</summary>
public static class Judgements
{
    /// <exception cref="InputError">Text that cannot be understood; the message says which character.</exception>
    public static JudgeAnswer Judge(JudgeQuestion question)
    {
        var requirement = Read(question);
        if (!requirement.IsMeasured)
            throw new InputError("requirement", $"“{requirement}” is judged yes or no, not by a number.");
        if (!Units.AreOfOneKind(requirement.Unit, question.ValueUnit))
            throw new InputError("valueUnit", $"A value in {question.ValueUnit} cannot be held against a requirement in {requirement.Unit}.");

        var value = ValueText.Parse(question.Value, question.ValueUnit, "value");
        if (requirement is PositionWithin && value < 0)
            throw new InputError("value", "A position deviation is a diameter: it is never below zero.");
        decimal? uncertainty = string.IsNullOrWhiteSpace(question.ExpandedUncertainty)
            ? null
            : ValueText.Parse(question.ExpandedUncertainty, question.ValueUnit, "expandedUncertainty");
        var limits = requirement.Limits;
        var judgement = Judging.Judge.WithProbability(limits, value, uncertainty, question.Rule, question.Terms);
        // Under a modifier the size adds to the limit: what fails without it may conform with it (ISO 2692).
        var sizeDecides = requirement is PositionWithin { Size: not null } && judgement.Verdict != Verdict.Conforms;
        if (sizeDecides)
            judgement = judgement with { Verdict = Verdict.NotProven, OffBy = null };
        return new JudgeAnswer(
            judgement.Verdict,
            requirement,
            requirement.Unit,
            Shown(limits.Lower),
            Shown(limits.Upper),
            Shown(value)!.Value,
            Shown(value - requirement.Nominal),
            Shown(judgement.OffBy),
            Shown(judgement.Guard),
            judgement.ConformanceProbability,
            SourcesFor(requirement, question, uncertainty is not null),
            [.. CautionsFor(question, judgement, limits), .. sizeDecides ? ["The size adds to what is allowed and is not known here: not proven. Position takes both."] : Array.Empty<string>()]);

        decimal? Shown(decimal? baseValue) => baseValue is { } known ? Units.FromBase(known, requirement.Unit) : null;
    }

    private static Requirement Read(JudgeQuestion question)
    {
        try
        {
            return Requirement.Parse(question.Requirement ?? "", question.Unit, question.General);
        }
        catch (RequirementError refusal)
        {
            throw refusal.At("requirement");
        }
    }

    private static List<string> SourcesFor(Requirement requirement, JudgeQuestion question, bool hasUncertainty)
    {
        var sources = new List<string>(requirement.Sources);
        if (question.Rule == JudgingRule.Guarded)
            sources.Add(question.Terms.GuardSource);
        if (question.Rule == JudgingRule.Probability || hasUncertainty)
            sources.Add("JCGM 106:2012, clause 7: conformance probability");
        if (question.Rule == JudgingRule.Simple)
            sources.Add("Simple acceptance: a value on the limit conforms");
        if (question.Terms.RoundTo is not null)
            sources.Add("ASTM E29, rounding method");
        return sources;
    }

    private static List<string> CautionsFor(JudgeQuestion question, ValueJudgement judgement, in Limits limits)
    {
        var cautions = new List<string>();
        if (judgement.MissingUncertainty)
            cautions.Add("The rule needs the expanded uncertainty, which is not given: not proven.");
        if (judgement.Guard is { } guard && limits.Width < 2 * guard)
            cautions.Add("The guard is wider than half the tolerance: no value can conform with this instrument.");
        if (question.Rule == JudgingRule.Simple)
            cautions.Add("Simple acceptance does not look at the measurement uncertainty.");
        if (judgement.ConformanceProbability is not null)
            cautions.Add($"U is taken as {question.Terms.CoverageFactor}·u of a normal distribution.");
        return cautions;
    }
}
