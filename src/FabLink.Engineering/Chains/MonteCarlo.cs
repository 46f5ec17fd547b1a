namespace FabLink.Engineering.Chains;

/// <summary>
/// Simulation in blocks of 1,024 samples. Each block draws from streams of its own and its sums are added in the order of the
/// blocks, so the answer is the same to the last bit for any number of threads.
/// </summary>
internal static class MonteCarlo
{
    public const double Confidence = 0.95;
    private const int Block = 1024;

    /// <summary>Closing dimension of each sample of a block, given how far each variable stands from its middle.</summary>
    /// <param name="deviations">Variable by variable, <paramref name="samples"/> values each.</param>
    /// <param name="samples">In this block.</param>
    /// <param name="closing">Receives the closing dimension less its expected value.</param>
    public delegate void Closure(ReadOnlySpan<double> deviations, int samples, Span<double> closing);

    /// <summary>Linear chain: the draws are summed as they are made, nothing is stored per link.</summary>
    public static MonteCarloAnswer Linear(
        double expected, Variable[] variables, double[] sensitivities, RequiredLimits? required, int samples, long seed, int threads, CancellationToken cancellation = default)
    {
        return Run(expected, required, samples, seed, threads, cancellation, () => (block, closing) =>
        {
            closing.Clear();
            for (var i = 0; i < variables.Length; i++)
            {
                var stream = new RandomStream(seed, i, block);
                AddDraws(closing, variables[i].Distribution, sensitivities[i] * variables[i].DrawScale, ref stream);
            }
        });
    }

    /// <summary>Any closure, evaluated exactly for every sample.</summary>
    public static MonteCarloAnswer Exact(
        double expected, Variable[] variables, Closure closure, RequiredLimits? required, int samples, long seed, int threads, CancellationToken cancellation = default)
    {
        return Run(expected, required, samples, seed, threads, cancellation, () =>
        {
            var deviations = new double[variables.Length * Block];
            return (block, closing) =>
            {
                var used = deviations.AsSpan(0, variables.Length * closing.Length);
                used.Clear();
                for (var i = 0; i < variables.Length; i++)
                {
                    var stream = new RandomStream(seed, i, block);
                    AddDraws(used.Slice(i * closing.Length, closing.Length), variables[i].Distribution, variables[i].DrawScale, ref stream);
                }
                closure(used, closing.Length, closing);
            };
        });
    }

    /// <summary>Random numbers alone, for comparison: draws that are summed and not looked at.</summary>
    internal static double DrawsOnly(Variable[] variables, int samples, long seed)
    {
        Span<double> sums = stackalloc double[Block];
        sums.Clear();
        for (var block = 0; block * Block < samples; block++)
        {
            for (var i = 0; i < variables.Length; i++)
            {
                var stream = new RandomStream(seed, i, block);
                AddDraws(sums[..Math.Min(Block, samples - (block * Block))], variables[i].Distribution, variables[i].DrawScale, ref stream);
            }
        }
        return sums[0];
    }

    private delegate void FillBlock(int block, Span<double> closing);

    private static MonteCarloAnswer Run(
        double expected, RequiredLimits? required, int samples, long seed, int threads, CancellationToken cancellation, Func<FillBlock> worker)
    {
        var blocks = ((samples - 1) / Block) + 1;
        var tallies = new Tally[blocks];
        var (low, high) = required is null
            ? (double.NegativeInfinity, double.PositiveInfinity)
            : (required.Low - expected, required.High - expected);

        void Work(FillBlock fill, int block)
        {
            Span<double> closing = stackalloc double[Math.Min(Block, samples - (block * Block))];
            fill(block, closing);
            tallies[block] = Tally.Of(closing, low, high);
        }

        if (threads == 1)
        {
            var fill = worker();
            for (var block = 0; block < blocks; block++)
            {
                cancellation.ThrowIfCancellationRequested();
                Work(fill, block);
            }
        }
        else
        {
            Parallel.For(
                0,
                blocks,
                new ParallelOptions { MaxDegreeOfParallelism = threads, CancellationToken = cancellation },
                worker,
                (block, _, fill) =>
                {
                    Work(fill, block);
                    return fill;
                },
                static _ => { });
        }
        return Summarise(tallies, expected, required, samples, seed);
    }

    private static MonteCarloAnswer Summarise(Tally[] tallies, double expected, RequiredLimits? required, int samples, long seed)
    {
        double sum = 0, squares = 0;
        var (least, most) = (double.PositiveInfinity, double.NegativeInfinity);
        long within = 0;
        foreach (var t in tallies)
        {
            sum += t.Sum;
            squares += t.Squares;
            within += t.Within;
            least = Math.Min(least, t.Least);
            most = Math.Max(most, t.Most);
        }
        var mean = sum / samples;
        var variance = samples > 1 ? Math.Max(0, (squares - (sum * mean)) / (samples - 1)) : 0;
        var interval = required is null ? null : WilsonInterval.Of(within, samples, Confidence);
        return new MonteCarloAnswer(
            required is null ? null : (double)within / samples,
            interval is null ? null : [interval.Lower, interval.Upper],
            Confidence,
            "Wilson score",
            expected + mean,
            Math.Sqrt(variance),
            expected + least,
            expected + most,
            samples,
            seed);
    }

    private static void AddDraws(Span<double> sums, Distribution distribution, double scale, ref RandomStream stream)
    {
        if (scale == 0)
            return;
        Span<ulong> bits = stackalloc ulong[Block];
        bits = bits[..sums.Length];
        stream.Fill(bits);
        switch (distribution)
        {
            case Distribution.Uniform:
                AddUniform(sums, scale, bits);
                break;
            case Distribution.Triangular:
                // The sum of two uniform draws of half the width is triangular.
                AddUniform(sums, scale / 2, bits);
                stream.Fill(bits);
                AddUniform(sums, scale / 2, bits);
                break;
            default:
                NormalSampler.Add(sums, scale, bits, ref stream);
                break;
        }
    }

    private static void AddUniform(Span<double> sums, double scale, ReadOnlySpan<ulong> bits)
    {
        for (var k = 0; k < sums.Length; k++)
            sums[k] += scale * ((2 * RandomStream.Unit(bits[k])) - 1);
    }

    private readonly record struct Tally(double Sum, double Squares, double Least, double Most, int Within)
    {
        public static Tally Of(ReadOnlySpan<double> closing, double low, double high)
        {
            double sum = 0, squares = 0;
            var (least, most) = (double.PositiveInfinity, double.NegativeInfinity);
            var within = 0;
            foreach (var y in closing)
            {
                sum += y;
                squares += y * y;
                least = Math.Min(least, y);
                most = Math.Max(most, y);
                within += y >= low && y <= high ? 1 : 0;
            }
            return new Tally(sum, squares, least, most, within);
        }
    }
}
