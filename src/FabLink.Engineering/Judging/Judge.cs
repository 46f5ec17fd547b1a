using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>
/// One value against its limits, in decimal and exact at the limit: a value on the limit conforms. Everything in base units.
/// </summary>
public static class Judge
{
    /// <param name="limits">The limits; a side that is open accepts everything.</param>
    /// <param name="value">The measured value.</param>
    /// <param name="expandedUncertainty">U of the value, not negative; null when it is not known.</param>
    /// <param name="rule">Guarded and by probability are not proven without U.</param>
    /// <param name="terms">Guard, k, minimum probability and rounding; null for the defaults.</param>
    /// <exception cref="InputError">U is negative, or a term is out of its range.</exception>
    public static ValueJudgement Value(in Limits limits, decimal value, decimal? expandedUncertainty, JudgingRule rule, JudgingTerms? terms = null)
    {
        if (expandedUncertainty < 0)
            throw new InputError("expandedUncertainty", $"The expanded uncertainty must not be negative: {expandedUncertainty}.");
        if (terms?.Checked().RoundTo is { } step)
            value = Rounding.ToStep(value, step);
        if (rule == JudgingRule.Simple)
            return limits.Contains(value) ? default : new(Verdict.DoesNotConform, Outside(limits, value), null, null, false);

        var outside = Outside(limits, value);
        var offBy = outside > 0 ? outside : null;
        terms ??= JudgingTerms.Default;
        if (expandedUncertainty is not { } known)
            return new(Verdict.NotProven, offBy, null, null, true);
        if (rule == JudgingRule.Probability)
        {
            var inside = Conformance.Probability(limits, value, known / terms.CoverageFactor);
            return new(ByProbability(inside, terms.MinimumProbability), offBy, null, inside, false);
        }

        var guard = terms.GuardOf(known);
        return new(Guarded(outside, guard), offBy, guard, null, false);
    }

    /// <summary>The same, with the conformance probability told under every rule wherever U is known.</summary>
    public static ValueJudgement WithProbability(in Limits limits, decimal value, decimal? expandedUncertainty, JudgingRule rule, JudgingTerms? terms = null)
    {
        var judgement = Value(limits, value, expandedUncertainty, rule, terms);
        if (expandedUncertainty is not { } known || judgement.ConformanceProbability is not null)
            return judgement;
        terms ??= JudgingTerms.Default;
        var judged = terms.RoundTo is { } step ? Rounding.ToStep(value, step) : value;
        return judgement with { ConformanceProbability = Conformance.Probability(limits, judged, known / terms.CoverageFactor) };
    }

    /// <summary>Simple acceptance of many values, without allocation: the same answers as <see cref="Value"/>.</summary>
    /// <param name="limits">One per value.</param>
    /// <param name="values">In base units.</param>
    /// <param name="verdicts">Filled, one per value.</param>
    /// <exception cref="InputError">The spans differ in length.</exception>
    public static void Values(ReadOnlySpan<Limits> limits, ReadOnlySpan<decimal> values, Span<Verdict> verdicts)
    {
        RequireAlike(limits.Length, values.Length, verdicts.Length);
        for (var i = 0; i < values.Length; i++)
            verdicts[i] = limits[i].Contains(values[i]) ? Verdict.Conforms : Verdict.DoesNotConform;
    }

    /// <summary>Guarded acceptance of many values, without allocation; a zone is made once per characteristic and instrument.</summary>
    /// <inheritdoc cref="Values(ReadOnlySpan{Limits}, ReadOnlySpan{decimal}, Span{Verdict})"/>
    public static void Values(ReadOnlySpan<AcceptanceZone> zones, ReadOnlySpan<decimal> values, Span<Verdict> verdicts)
    {
        RequireAlike(zones.Length, values.Length, verdicts.Length);
        for (var i = 0; i < values.Length; i++)
            verdicts[i] = zones[i].Judge(values[i]);
    }

    /// <summary>How far beyond the nearer limit: negative inside, null where both sides are open.</summary>
    private static decimal? Outside(in Limits limits, decimal value)
    {
        var below = limits.Lower - value;
        var above = value - limits.Upper;
        return above is null || below > above ? below : above;
    }

    /// <summary>ISO 14253-1: proven with the whole guard to spare, disproven beyond the limit by more than the guard.</summary>
    private static Verdict Guarded(decimal? outside, decimal guard) =>
        outside is not { } distance || distance <= -guard ? Verdict.Conforms
        : distance > guard ? Verdict.DoesNotConform
        : Verdict.NotProven;

    private static Verdict ByProbability(double inside, double minimum) =>
        inside >= minimum ? Verdict.Conforms : 1 - inside >= minimum ? Verdict.DoesNotConform : Verdict.NotProven;

    private static void RequireAlike(int limits, int values, int verdicts)
    {
        if (limits != values || verdicts != values)
            throw new InputError("values", $"{values} values need as many limits ({limits}) and verdicts ({verdicts}).");
    }
}
