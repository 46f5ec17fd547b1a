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
        terms = terms is null ? JudgingTerms.Default : terms.Checked();
        if (expandedUncertainty < 0)
            throw new InputError("expandedUncertainty", $"The expanded uncertainty must not be negative: {expandedUncertainty}.");
        if (terms.RoundTo is { } step)
            value = Rounding.ToStep(value, step);

        var room = Room(limits, value);
        decimal? offBy = room < 0 ? -room : null;
        double? probability = expandedUncertainty is { } u
            ? Conformance.Probability(limits, value, u / terms.CoverageFactor)
            : null;
        if (rule == JudgingRule.Simple)
            return new(offBy is null ? Verdict.Conforms : Verdict.DoesNotConform, offBy, null, probability, false);
        if (expandedUncertainty is not { } known)
            return new(Verdict.NotProven, offBy, null, null, true);
        if (rule == JudgingRule.Probability)
            return new(ByProbability(probability!.Value, terms.MinimumProbability), offBy, null, probability, false);
        var guard = terms.GuardOf(known);
        return new(ByGuard(room, guard), offBy, guard, probability, false);
    }

    /// <summary>
    /// Verdicts of many values at once, without allocation: the same answers as <see cref="Value"/> under the simple and the guarded rule with the
    /// default terms. A guard below zero stands for an unknown U.
    /// </summary>
    /// <param name="limits">One per value.</param>
    /// <param name="values">In base units.</param>
    /// <param name="guards">One per value: zero for the simple rule, the guard for the guarded rule, below zero where that is not known; empty when all are simple.</param>
    /// <param name="verdicts">Filled, one per value.</param>
    /// <exception cref="InputError">The spans differ in length.</exception>
    public static void Values(ReadOnlySpan<Limits> limits, ReadOnlySpan<decimal> values, ReadOnlySpan<decimal> guards, Span<Verdict> verdicts)
    {
        if (limits.Length != values.Length || verdicts.Length != values.Length || (guards.Length != 0 && guards.Length != values.Length))
            throw new InputError("values", $"{values.Length} values need as many limits ({limits.Length}), verdicts ({verdicts.Length}) and guards ({guards.Length}, or none).");
        for (var i = 0; i < values.Length; i++)
        {
            var guard = guards.IsEmpty ? 0m : guards[i];
            if (guard == 0)
                verdicts[i] = limits[i].Contains(values[i]) ? Verdict.Conforms : Verdict.DoesNotConform;
            else
                verdicts[i] = guard < 0 ? Verdict.NotProven : ByGuard(Room(limits[i], values[i]), guard);
        }
    }

    /// <summary>Distance to the nearer limit, negative outside; the largest decimal when both sides are open.</summary>
    private static decimal Room(in Limits limits, decimal value)
    {
        var room = decimal.MaxValue;
        if (limits.Lower is { } lower)
            room = value - lower;
        if (limits.Upper is { } upper)
            room = Math.Min(room, upper - value);
        return room;
    }

    // ISO 14253-1: proven inside the shrunk zone, disproven outside the widened one, undecided between.
    private static Verdict ByGuard(decimal room, decimal guard) =>
        room >= guard ? Verdict.Conforms : room < -guard ? Verdict.DoesNotConform : Verdict.NotProven;

    private static Verdict ByProbability(double inside, double minimum) =>
        inside >= minimum ? Verdict.Conforms : 1 - inside >= minimum ? Verdict.DoesNotConform : Verdict.NotProven;
}
