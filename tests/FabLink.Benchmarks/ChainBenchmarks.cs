using BenchmarkDotNet.Attributes;
using FabLink.Engineering.Chains;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace FabLink.Benchmarks;

/// <summary>A million samples of a chain of ten normal links against the loop one would write with Math.NET.</summary>
[MemoryDiagnoser]
public class ChainBenchmarks
{
    private const int Samples = 1_000_000;

    private static readonly ChainLink[] Links =
        [.. Enumerable.Range(0, 10).Select(i => new ChainLink($"{i}", 10, -0.1, 0.1, i % 2 == 0 ? 1 : -1))];

    private static readonly Variable[] Variables = [.. Links.Select(l => Variable.Of(l.Name, l, []))];
    private static readonly ChainRequest Request = new(Links, new RequiredLimits(-0.2, 0.2), Samples);

    [Benchmark(Baseline = true)]
    public double Sampling_loop_with_MathNet() => Loop(new MersenneTwister(1));

    [Benchmark]
    public double Sampling_loop_with_MathNets_fastest_generator() => Loop(new Xoshiro256StarStar(1, threadSafe: false));

    [Benchmark]
    public double Chain_on_one_thread() => ChainCalculation.Run(Request, threads: 1).MonteCarlo!.Yield!.Value;

    [Benchmark]
    public double Chain_on_all_threads() => ChainCalculation.Run(Request).MonteCarlo!.Yield!.Value;

    [Benchmark]
    public double Random_numbers_alone() => MonteCarlo.DrawsOnly(Variables, Samples, 1);

    private static double Loop(Random random)
    {
        var (within, sum, squares) = (0, 0.0, 0.0);
        for (var k = 0; k < Samples; k++)
        {
            var y = 0.0;
            foreach (var link in Links)
                y += link.Sensitivity * Normal.Sample(random, link.Nominal!.Value, link.Upper!.Value / link.Sigma);
            within += y is >= -0.2 and <= 0.2 ? 1 : 0;
            sum += y;
            squares += y * y;
        }
        return (within / (double)Samples) + (0 * (sum + squares));
    }
}
