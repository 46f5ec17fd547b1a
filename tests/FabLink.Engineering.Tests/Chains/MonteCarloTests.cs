using FabLink.Engineering.Chains;
using FabLink.Engineering.Judging;

namespace FabLink.Engineering.Tests.Chains;

public class MonteCarloTests
{
    private static MonteCarloAnswer Run(string distribution, int links, double limit, long seed, int samples, int threads = 1) =>
        ChainCalculation.Run(
            new ChainRequest(
                [.. Enumerable.Range(0, links).Select(i => new ChainLink($"{i}", 0, -1, 1, Distribution: distribution))],
                new RequiredLimits(-limit, limit),
                samples,
                seed),
            threads).MonteCarlo!;

    /// <summary>P(|sum of n uniforms on ±1| ≤ t) (J. O. Irwin, P. Hall, Biometrika 19, 1927).</summary>
    private static double IrwinHall(int n, double t)
    {
        double Cumulative(double x)
        {
            double sum = 0, choose = 1, factorial = 1;
            for (var i = 2; i <= n; i++)
                factorial *= i;
            for (var k = 0; k <= Math.Floor(x); k++)
            {
                sum += (k % 2 == 0 ? 1 : -1) * choose * Math.Pow(x - k, n);
                choose *= (double)(n - k) / (k + 1);
            }
            return sum / factorial;
        }
        return Cumulative((n + t) / 2) - Cumulative((n - t) / 2);
    }

    [Theory]
    [InlineData(1, 0.5)]
    [InlineData(2, 0.7)]
    [InlineData(3, 1.5)]
    [InlineData(5, 2.0)]
    [InlineData(8, 3.0)]
    public void A_sum_of_uniform_links_yields_what_Irwin_and_Hall_say(int links, double limit)
    {
        var simulated = Run("uniform", links, limit, seed: 7, samples: 400_000);

        Assert.InRange(IrwinHall(links, limit), simulated.YieldInterval![0], simulated.YieldInterval[1]);
        Assert.Equal(Math.Sqrt(links / 3.0), simulated.StandardDeviation, 2);
    }

    [Theory]
    [InlineData(1, 0.4)]
    [InlineData(4, 1.0)]
    [InlineData(10, 2.5)]
    public void A_sum_of_normal_links_yields_what_the_normal_distribution_says(int links, double limit)
    {
        var simulated = Run("normal", links, limit, seed: 3, samples: 400_000);
        var sigma = Math.Sqrt(links) / 3;

        Assert.InRange(1 - (2 * Normal.UpperTail(limit / sigma)), simulated.YieldInterval![0], simulated.YieldInterval[1]);
        Assert.Equal(sigma, simulated.StandardDeviation, 2);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void Triangular_links_are_sums_of_two_uniform_ones_of_half_the_width(int links)
    {
        var simulated = Run("triangular", links, 0.6, seed: 4, samples: 400_000);

        Assert.InRange(IrwinHall(2 * links, 1.2), simulated.YieldInterval![0], simulated.YieldInterval[1]);
        Assert.Equal(Math.Sqrt(links / 6.0), simulated.StandardDeviation, 2);
    }

    [Fact]
    public void A_measured_link_scatters_about_its_value_by_its_uncertainty()
    {
        ChainLink[] links = [new("A", 10, -0.1, 0.1, Measured: 10.03, StandardUncertainty: 0.01)];
        MonteCarloAnswer Simulated(long seed) =>
            ChainCalculation.Run(new ChainRequest(links, new RequiredLimits(null, 10.04), 40_000, seed), threads: 1).MonteCarlo!;

        Assert.Equal(10.03, Simulated(1).Mean, 3);
        Assert.Equal(0.01, Simulated(1).StandardDeviation, 3);
        // One standard deviation above the mean: Φ(1). 100 trials at 95 %, four standard deviations of 2.2 either way.
        var held = Enumerable.Range(1, 100).Select(seed => Simulated(seed).YieldInterval!)
            .Count(interval => Normal.Cumulative(1) >= interval[0] && Normal.Cumulative(1) <= interval[1]);
        Assert.InRange(held, 87, 100);
    }

    [Fact]
    public void The_interval_holds_the_truth_about_ninety_five_times_in_a_hundred()
    {
        var truth = IrwinHall(4, 1.2);
        var held = Enumerable.Range(1, 400).Count(seed =>
        {
            var interval = Run("uniform", 4, 1.2, seed, samples: 2_000).YieldInterval!;
            return truth >= interval[0] && truth <= interval[1];
        });

        // 400 trials at 95 %: 380, standard deviation 4.4; four of them either way.
        Assert.InRange(held, 362, 397);
    }

    [Fact]
    public void The_answer_is_the_same_to_the_last_bit_for_any_number_of_threads()
    {
        var one = Run("normal", 6, 2, seed: 42, samples: 100_001, threads: 1);

        foreach (var threads in (int[])[2, 3, 8, -1])
            Assert.Equal(one with { YieldInterval = null }, Run("normal", 6, 2, 42, 100_001, threads) with { YieldInterval = null });
        Assert.NotEqual(one.Mean, Run("normal", 6, 2, seed: 43, samples: 100_001).Mean);
    }

    [Fact]
    public void A_link_added_at_the_end_leaves_the_draws_of_the_others_alone()
    {
        ChainLink[] links = [new("a", 0, -1, 1), new("b", 0, -1, 1)];
        var without = ChainCalculation.Run(new ChainRequest(links, Samples: 5_000)).MonteCarlo!;
        var with = ChainCalculation.Run(new ChainRequest([.. links, new("c", 5)], Samples: 5_000)).MonteCarlo!;

        Assert.Equal(without.Mean + 5, with.Mean, 12);
        Assert.Equal(without.StandardDeviation, with.StandardDeviation, 12);
    }

    [Fact]
    public void Normal_draws_fill_every_part_of_the_bell_and_its_tails_in_proportion()
    {
        const int draws = 1_000_000;
        double[] edges = [-4.2, -3.6541528853610088, -3, -2, -1.3, -0.7, -0.2, 0, 0.25, 0.8, 1.5, 2.2, 3.1, 3.7];
        var counts = new int[edges.Length + 1];
        var stream = new RandomStream(99, 0, 0);
        Span<double> block = stackalloc double[1000];
        Span<ulong> bits = stackalloc ulong[1000];
        for (var i = 0; i < draws; i += block.Length)
        {
            block.Clear();
            stream.Fill(bits);
            NormalSampler.Add(block, 1, bits, ref stream);
            foreach (var z in block)
                counts[~Array.BinarySearch(edges, z)]++;
        }

        var chiSquared = 0.0;
        for (var i = 0; i < counts.Length; i++)
        {
            var upper = i < edges.Length ? Normal.Cumulative(edges[i]) : 1;
            var lower = i > 0 ? Normal.Cumulative(edges[i - 1]) : 0;
            var expected = draws * (upper - lower);
            chiSquared += Math.Pow(counts[i] - expected, 2) / expected;
        }
        // 14 degrees of freedom: 36.12 is exceeded once in a thousand (chi-squared tables).
        Assert.InRange(chiSquared, 2, 36.12);
    }

    [Theory]
    // R. G. Newcombe, Statistics in Medicine 17 (1998), table I, score method without continuity correction (from memory).
    [InlineData(81, 263, 0.2553, 0.3662)]
    [InlineData(15, 148, 0.0624, 0.1605)]
    [InlineData(0, 20, 0.0, 0.1611)]
    [InlineData(1, 29, 0.0061, 0.1718)]
    public void The_Wilson_interval_has_its_published_ends(int successes, int trials, double lower, double upper)
    {
        var interval = WilsonInterval.Of(successes, trials, 0.95);

        Assert.Equal(lower, interval.Lower, 4);
        Assert.Equal(upper, interval.Upper, 4);
    }
}
