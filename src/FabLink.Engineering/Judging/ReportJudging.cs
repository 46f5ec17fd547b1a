using System.Globalization;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>A whole report: every required characteristic measured and conforming, or what is wrong, worst first.</summary>
public static class ReportJudging
{
    /// <param name="required">The characteristics of the stage; balloons are unique.</param>
    /// <param name="values">Oldest first: a later value of the same instance stands.</param>
    /// <param name="pairs">Matched pairs among the characteristics; null for none.</param>
    /// <exception cref="InputError">A balloon twice, a value of an unknown balloon or instance, a number where yes or no is asked or the reverse.</exception>
    public static ReportJudgement Judge(
        IReadOnlyList<RequiredCharacteristic> required,
        IReadOnlyList<MeasuredValue> values,
        IReadOnlyList<MatchedPair>? pairs = null)
    {
        var asked = ByBalloon(required);
        var standing = Standing(asked, values);
        var judged = standing.Values.Select(one => JudgeOne(one, asked, standing)).ToList();
        var missing = required.Where(c => c.IsRequired)
            .SelectMany(c => Enumerable.Range(1, c.Requirement.Count)
                .Where(instance => !standing.ContainsKey((c.Balloon, instance)))
                .Select(c.NameOf))
            .ToList();
        var judgedPairs = (pairs ?? []).SelectMany((pair, row) => JudgePair(pair, row, asked, standing)).ToList();

        // Equally bad, they stand as on the drawing.
        var place = required.Index().ToDictionary(each => each.Item.Balloon, each => each.Index, StringComparer.Ordinal);
        var overall = missing.Count > 0 ? Verdict.Incomplete : Verdict.Conforms;
        overall = judged.Select(j => j.Judgement.Verdict).Concat(judgedPairs.Select(p => p.Judgement.Verdict)).Append(overall).Max();
        return new ReportJudgement(
            overall,
            [.. judged.OrderByDescending(j => j.Judgement.Verdict).ThenByDescending(j => j.Characteristic.Importance).ThenByDescending(j => j.Severity)
                .ThenBy(j => place[j.Characteristic.Balloon]).ThenBy(j => j.Instance)],
            missing,
            [.. judgedPairs.OrderByDescending(p => p.Judgement.Verdict)],
            SourcesOf(required),
            CautionsOf(required, judged));
    }

    private static Dictionary<string, RequiredCharacteristic> ByBalloon(IReadOnlyList<RequiredCharacteristic> required)
    {
        var asked = new Dictionary<string, RequiredCharacteristic>(StringComparer.Ordinal);
        for (var row = 0; row < required.Count; row++)
        {
            if (!asked.TryAdd(required[row].Balloon, required[row]))
                throw new InputError($"required/{row}/balloon", $"Balloon {required[row].Balloon} is there twice.");
        }

        return asked;
    }

    private static Dictionary<(string, int), (RequiredCharacteristic Asked, MeasuredValue Value)> Standing(
        Dictionary<string, RequiredCharacteristic> asked, IReadOnlyList<MeasuredValue> values)
    {
        var standing = new Dictionary<(string, int), (RequiredCharacteristic, MeasuredValue)>();
        for (var row = 0; row < values.Count; row++)
        {
            var value = values[row];
            if (!asked.TryGetValue(value.Balloon, out var characteristic))
                throw new InputError($"values/{row}/balloon", $"Row {row + 1}: balloon {value.Balloon} is not among the characteristics.");
            if (value.Instance < 1 || value.Instance > characteristic.Requirement.Count)
                throw new InputError($"values/{row}/instance", $"Row {row + 1}: balloon {value.Balloon} has {characteristic.Requirement.Count} instance(s); {value.Instance} is none of them.");
            if (characteristic.Requirement.IsMeasured ? value.Value is null : value.Passes is null)
                throw new InputError($"values/{row}/value", $"Row {row + 1}: balloon {value.Balloon} needs {(characteristic.Requirement.IsMeasured ? "a number" : "yes or no")}.");
            standing[(value.Balloon, value.Instance)] = (characteristic, value);
        }

        return standing;
    }

    private static JudgedValue JudgeOne(
        (RequiredCharacteristic Asked, MeasuredValue Value) pair,
        Dictionary<string, RequiredCharacteristic> all,
        Dictionary<(string, int), (RequiredCharacteristic Asked, MeasuredValue Value)> standing)
    {
        var (asked, value) = pair;
        if (!asked.Requirement.IsMeasured)
        {
            var verdict = value.Passes == true ? Verdict.Conforms : Verdict.DoesNotConform;
            return new JudgedValue(asked, value.Instance, value, new ValueJudgement(verdict, null, null, null, false), 0);
        }

        var limits = asked.Requirement.Limits;
        var (judgement, bonus) = asked.Size is { } size
            ? SizeBonus.Judge(asked, value, UncertaintyOf(asked, value), size, SizeOf(size, value.Instance, all, standing))
            : (Judging.Judge.WithProbability(limits, value.Value!.Value, UncertaintyOf(asked, value), asked.Rule, asked.Terms), null);
        var severity = judgement.OffBy is not { } off ? 0 : limits.Width is { } width && width > 0 ? off / width : off;
        return new JudgedValue(asked, value.Instance, value, judgement, severity) { Bonus = bonus };
    }

    // A pattern has one size per place, or one size for all of its places.
    private static SizeBonus.Measured? SizeOf(
        SizeReference size,
        int instance,
        Dictionary<string, RequiredCharacteristic> all,
        Dictionary<(string, int), (RequiredCharacteristic Asked, MeasuredValue Value)> standing)
    {
        var balloon = size.Balloon.ToString(CultureInfo.InvariantCulture);
        if (!all.TryGetValue(balloon, out var feature))
            return null;
        var found = standing.TryGetValue((balloon, feature.Requirement.Count == 1 ? 1 : instance), out var one);
        return new SizeBonus.Measured(feature.Requirement.Limits, found ? one.Value.Value : null, found ? UncertaintyOf(one.Asked, one.Value) : null);
    }

    // The value's own U, else the instrument's, which may grow with the measured length.
    private static decimal? UncertaintyOf(RequiredCharacteristic asked, MeasuredValue value) =>
        value.ExpandedUncertainty ?? (InstrumentFits(asked, value) ? value.Instrument?.ExpandedUncertaintyAt(value.Value ?? 0) : null);

    private static bool InstrumentFits(RequiredCharacteristic asked, MeasuredValue value) =>
        value.Instrument is { } instrument && instrument.MeasuresAngles == Units.IsAngle(asked.Requirement.Unit);

    private static IEnumerable<JudgedPair> JudgePair(
        MatchedPair pair,
        int row,
        Dictionary<string, RequiredCharacteristic> asked,
        Dictionary<(string, int), (RequiredCharacteristic Asked, MeasuredValue Value)> standing)
    {
        if (!asked.TryGetValue(pair.First, out var first))
            throw new InputError($"pairs/{row}/first", $"Pair {pair.Name}: balloon {pair.First} is not among the characteristics.");
        if (!asked.TryGetValue(pair.Second, out var second))
            throw new InputError($"pairs/{row}/second", $"Pair {pair.Name}: balloon {pair.Second} is not among the characteristics.");
        if (first.Requirement.Count != second.Requirement.Count || !Units.AreOfOneKind(first.Requirement.Unit, second.Requirement.Unit))
            throw new InputError($"pairs/{row}", $"Pair {pair.Name}: {pair.First} and {pair.Second} differ in count or kind of unit.");

        if (!first.Requirement.IsMeasured || !second.Requirement.IsMeasured)
            throw new InputError($"pairs/{row}", $"Pair {pair.Name}: only measured characteristics have a difference.");

        for (var instance = 1; instance <= first.Requirement.Count; instance++)
        {
            if (!standing.TryGetValue((pair.First, instance), out var one) || !standing.TryGetValue((pair.Second, instance), out var other))
            {
                yield return new JudgedPair(pair, instance, null, new ValueJudgement(Verdict.Incomplete, null, null, null, false));
                continue;
            }

            var difference = one.Value.Value!.Value - other.Value.Value!.Value;
            var judgement = MatchedPairs.Judge(pair.Difference, difference, UncertaintyOf(one.Asked, one.Value), UncertaintyOf(other.Asked, other.Value), pair.Rule, pair.Terms);
            yield return new JudgedPair(pair, instance, difference, judgement);
        }
    }

    private static List<string> SourcesOf(IReadOnlyList<RequiredCharacteristic> required) =>
        [.. required.SelectMany(c => c.Requirement.Sources)
            .Concat(required.Where(c => c.Rule == JudgingRule.Guarded).Select(c => c.Terms.GuardSource))
            .Concat(required.Where(c => c.Size is not null).Select(_ => SizeBonus.Source))
            .Concat(required.Where(c => c.Rule == JudgingRule.Probability).Select(_ => "JCGM 106:2012, clause 7"))
            .Distinct()];

    private static List<string> CautionsOf(IReadOnlyList<RequiredCharacteristic> required, List<JudgedValue> judged)
    {
        var cautions = new List<string>();
        var unproven = judged.Where(j => j.Judgement.MissingUncertainty).Select(j => j.Name).ToList();
        if (unproven.Count > 0)
            cautions.Add($"No uncertainty is known for {string.Join(", ", unproven)}: give the value's own U or an instrument that has one.");
        foreach (var value in judged.Where(j => j.Measured.Instrument is not null && j.Characteristic.Requirement.IsMeasured && !InstrumentFits(j.Characteristic, j.Measured)))
            cautions.Add($"{value.Name}: {value.Measured.Instrument!.Name} does not measure {(Units.IsAngle(value.Characteristic.Requirement.Unit) ? "angles" : "lengths")}; its uncertainty was not used.");
        foreach (var value in judged.Where(j => j is { Characteristic.Size: not null, Bonus: null } && j.Judgement.Verdict == Verdict.NotProven))
            cautions.Add($"{value.Name}: the size, balloon {value.Characteristic.Size!.Balloon}, is not measured, so its bonus is not known: not proven.");
        if (required.Count == 0)
            cautions.Add("Nothing was required: there is nothing to conform to.");
        return cautions;
    }
}
