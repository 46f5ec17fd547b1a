using BenchmarkDotNet.Attributes;
using FabLink.Engineering.BoltUp;

namespace FabLink.Benchmarks;

/// <summary>
/// Certified bolt-up, the proof checked, against one pass that evaluates every hole under one move.
/// Goal on one core: 20 holes under 0.5 ms, 200 under 5 ms, growing about linearly.
/// </summary>
[MemoryDiagnoser]
public class BoltUpBenchmarks
{
    private static readonly Move Still = new(0, 0, 0);

    private Joint fits = null!;
    private Joint fails = null!;
    private PlanarSolver decider = null!;

    [Params(4, 20, 200, 1000)]
    public int Holes { get; set; }

    [GlobalSetup]
    public void Fill()
    {
        fits = Scattered(spread: 0.6);
        fails = Scattered(spread: 6);
        decider = new PlanarSolver(PlanarPattern.Of(fails), Math.PI);
    }

    [Benchmark(Baseline = true, Description = "one pass over the holes")]
    public double OnePass()
    {
        var least = double.PositiveInfinity;
        foreach (var hole in fits.Holes)
            least = Math.Min(least, PlanarBoltUp.ClearanceLeft(fits, hole, Still));
        return least;
    }

    [Benchmark(Description = "certified, fits")]
    public double Fits() => PlanarBoltUp.Solve(fits).Margin;

    [Benchmark(Description = "certified, fails")]
    public double Fails() => PlanarBoltUp.Solve(fails).Margin;

    [Benchmark(Description = "yes or no, fails")]
    public bool Decides() => decider.Passes();

    private Joint Scattered(double spread)
    {
        var random = new Random(3);
        double Off() => spread * (random.NextDouble() - 0.5);
        var holes = Enumerable.Range(0, Holes).Select(i =>
        {
            double x = 1000 * random.NextDouble(), y = 500 * random.NextDouble();
            return new JointHole($"{i}", new HoleSide(x + Off(), y + Off(), 13.5), new HoleSide(x + Off(), y + Off(), 13.5), 12, FastenerKind.Floating);
        }).ToArray();
        return new Joint(holes, 0, 0, 180);
    }
}
