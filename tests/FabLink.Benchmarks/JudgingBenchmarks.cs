using BenchmarkDotNet.Attributes;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Benchmarks;

/// <summary>
/// A million values mixed over all requirement kinds, against a bare comparison loop over the same arrays, and requirements parsed.
/// Goal: within twice the bare loop, nothing allocated per value.
/// </summary>
[MemoryDiagnoser]
public class JudgingBenchmarks
{
    private const int Count = 1_000_000;

    private static readonly string[] Texts =
    [
        "12 ±0.1", "12 +0.2/-0.1", "12 0/-0.1", "12.0-12.4", "max 0.5", "min 40", "Ø12 H7", "120", "R5 ±0.5", "45° ±0°30'", "45° (leg 120)",
        ".750 ±.005 in", "10× Ø13.5 +0.27/0", "12,5 ±0,05", "93°06'12\" ±0°05'",
    ];

    private readonly Limits[] limits = new Limits[Count];
    private readonly decimal[] values = new decimal[Count];
    private readonly AcceptanceZone[] zones = new AcceptanceZone[Count];
    private readonly decimal?[] uncertainties = new decimal?[Count];
    private readonly Verdict[] verdicts = new Verdict[Count];
    private readonly GeneralTolerance general = GeneralTolerance.Parse("ISO 2768-mK");

    [GlobalSetup]
    public void Fill()
    {
        var random = new Random(1);
        var requirements = Texts.Select(Parse).ToArray();
        for (var i = 0; i < Count; i++)
        {
            limits[i] = requirements[random.Next(requirements.Length)].Limits;
            var middle = limits[i].Middle ?? limits[i].Upper ?? limits[i].Lower!.Value;
            var half = (limits[i].Width ?? 0.2m) / 2;
            // Four decimals, as measured; about one value in six is outside.
            values[i] = decimal.Round(middle + half * (decimal)(random.NextDouble() * 2.4 - 1.2), 4);
            var guard = i % 2 == 0 ? 0 : decimal.Round(half / 5, 4);
            zones[i] = AcceptanceZone.Around(limits[i], guard);
            uncertainties[i] = guard;
        }
    }

    [Benchmark(Baseline = true, Description = "bare loop", OperationsPerInvoke = Count)]
    public int BareLoop()
    {
        for (var i = 0; i < Count; i++)
        {
            var value = values[i];
            verdicts[i] = value < limits[i].Lower || value > limits[i].Upper ? Verdict.DoesNotConform : Verdict.Conforms;
        }

        return Count;
    }

    [Benchmark(Description = "batch, simple", OperationsPerInvoke = Count)]
    public void BatchSimple() => Judge.Values(limits, values, verdicts);

    [Benchmark(Description = "batch, half guarded", OperationsPerInvoke = Count)]
    public void BatchMixed() => Judge.Values(zones, values, verdicts);

    [Benchmark(Description = "one by one, simple", OperationsPerInvoke = Count)]
    public void OneByOneSimple()
    {
        for (var i = 0; i < Count; i++)
            verdicts[i] = Judge.Value(limits[i], values[i], null, JudgingRule.Simple).Verdict;
    }

    [Benchmark(Description = "one by one, guarded", OperationsPerInvoke = Count)]
    public void OneByOneGuarded()
    {
        for (var i = 0; i < Count; i++)
            verdicts[i] = Judge.Value(limits[i], values[i], uncertainties[i], JudgingRule.Guarded).Verdict;
    }

    [Benchmark(Description = "one by one, by probability", OperationsPerInvoke = Count)]
    public void OneByOneByProbability()
    {
        for (var i = 0; i < Count; i++)
            verdicts[i] = Judge.Value(limits[i], values[i], uncertainties[i], JudgingRule.Probability).Verdict;
    }

    [Benchmark(Description = "parse a requirement", OperationsPerInvoke = 15)]
    public int ParseRequirements()
    {
        var count = 0;
        foreach (var text in Texts)
            count += Parse(text).Count;
        return count;
    }

    private Requirement Parse(string text) => Requirement.Parse(text, Unit.Millimetre, general);
}
