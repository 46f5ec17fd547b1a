namespace FabLink.Engineering.BoltUp;

/// <summary>Chance that the joint bolts up, with its 95 % interval (Wilson score).</summary>
public sealed record ProbabilityEstimate(double Value, double Lower, double Upper, int Samples, long Seed);

/// <summary>
/// Monte Carlo over what is not known about the holes. Each sample is decided, not estimated: a move that passes, or the
/// proof that there is none. Sample k draws from its own generator, so the count does not depend on threads.
/// </summary>
public static class BoltUpProbability
{
    public const int MostSamples = 1_000_000;

    private const int Chunk = 256;

    /// <summary>95 % two-sided.</summary>
    private const double Z = 1.959963984540054;

    /// <summary>Throws <see cref="InputError"/> when no hole has a spread or the number of samples is out of range.</summary>
    public static ProbabilityEstimate Estimate(Joint joint, int samples, long seed, int threads = -1, CancellationToken cancellation = default)
    {
        joint.Validated();
        if (samples is < 1 or > MostSamples)
            throw new InputError("samples", $"The number of samples is 1 to {MostSamples}.");
        if (joint.Holes.All(hole => hole.A.Spread is null && hole.B.Spread is null))
            throw new InputError("samples", "A probability needs an uncertainty or a tolerance on at least one hole.");
        var passed = 0;
        Parallel.For(0, (samples + Chunk - 1) / Chunk, new ParallelOptions { MaxDegreeOfParallelism = threads, CancellationToken = cancellation }, () => new Sampler(joint), (chunk, _, sampler) =>
        {
            var here = 0;
            for (var k = chunk * Chunk; k < Math.Min((chunk + 1) * Chunk, samples); k++)
            {
                if (sampler.Passes(seed, k))
                    here++;
            }

            Interlocked.Add(ref passed, here);
            return sampler;
        }, _ => { });
        var (lower, upper) = Wilson(passed, samples);
        return new ProbabilityEstimate((double)passed / samples, lower, upper, samples, seed);
    }

    /// <summary>Wilson score interval of a proportion (E. B. Wilson, JASA 22, 1927).</summary>
    internal static (double Lower, double Upper) Wilson(int passed, int samples)
    {
        double n = samples, p = passed / n;
        var centre = (p + (Z * Z / (2 * n))) / (1 + (Z * Z / n));
        var half = Z / (1 + (Z * Z / n)) * Math.Sqrt((p * (1 - p) / n) + (Z * Z / (4 * n * n)));
        return (passed == 0 ? 0 : Math.Max(0, centre - half), passed == samples ? 1 : Math.Min(1, centre + half));
    }

    /// <summary>One worker's arrays; refilled for every sample.</summary>
    private sealed class Sampler
    {
        private readonly Joint joint;
        private readonly PlanarPattern pattern;
        private readonly PlanarSolver solver;
        private ulong state;

        public Sampler(Joint joint)
        {
            this.joint = joint;
            pattern = PlanarPattern.Of(joint);
            solver = new PlanarSolver(pattern, joint.RotationLimitDegrees * (Math.PI / 180));
        }

        public bool Passes(long seed, int sample)
        {
            state = Mixed((ulong)seed) ^ Mixed(0x632BE59BD9B4E019UL * ((ulong)sample + 1));
            var obstructed = false;
            for (var i = 0; i < pattern.Count; i++)
            {
                var hole = joint.Holes[i];
                (pattern.Ax[i], pattern.Ay[i], var a) = Draw(hole.A);
                (pattern.Bx[i], pattern.By[i], var b) = Draw(hole.B);
                DrawSlot(i, hole.A, a);
                DrawSlot(i, hole.B, b);
                a = Joint.Bare(hole.A with { Diameter = a }, joint.FilmA) - hole.Fastener;
                b = Joint.Bare(hole.B with { Diameter = b }, joint.FilmB) - hole.Fastener;
                var floating = hole.Kind == FastenerKind.Floating;
                obstructed |= b <= 0 || (floating && a <= 0);
                pattern.Allowance[i] = ((floating ? a : 0) + b) / 2;
            }

            if (obstructed)
                return false;
            pattern.Centre();
            return solver.Passes();
        }

        private (double X, double Y, double Diameter) Draw(HoleSide side)
        {
            if (side.Spread is not { } spread)
                return (side.X, side.Y, side.Diameter);
            var (x, y) = (side.X, side.Y);
            if (spread.Uncertainty > 0)
            {
                // Polar form of the normal pair; U is given at k = 2.
                var radius = spread.Uncertainty / 2 * Math.Sqrt(-2 * Math.Log(1 - Uniform()));
                var (sin, cos) = double.SinCos(2 * Math.PI * Uniform());
                x += radius * cos;
                y += radius * sin;
            }

            if (spread.PositionTolerance > 0)
            {
                var radius = spread.PositionTolerance / 2 * Math.Sqrt(Uniform());
                var (sin, cos) = double.SinCos(2 * Math.PI * Uniform());
                x += radius * cos;
                y += radius * sin;
            }

            if (spread.X.Upper > spread.X.Lower)
                x += spread.X.Lower + ((spread.X.Upper - spread.X.Lower) * Uniform());
            if (spread.Y.Upper > spread.Y.Lower)
                y += spread.Y.Lower + ((spread.Y.Upper - spread.Y.Lower) * Uniform());
            var diameter = side.Diameter + spread.DiameterLower + ((spread.DiameterUpper - spread.DiameterLower) * Uniform());
            return (x, y, diameter);
        }

        private void DrawSlot(int i, HoleSide side, double diameter)
        {
            if (side is not { Slot: { } slot, Spread: { } spread })
                return;
            if (spread.Length is { } length)
                pattern.HalfTravel[i] = Math.Max(0, slot.Travel + length.Lower + ((length.Upper - length.Lower) * Uniform()) - (diameter - side.Diameter)) / 2;
            if (spread.Direction.Upper > spread.Direction.Lower)
            {
                var angle = slot.AngleDegrees + spread.Direction.Lower + ((spread.Direction.Upper - spread.Direction.Lower) * Uniform());
                (pattern.Dy[i], pattern.Dx[i]) = double.SinCos(angle * (Math.PI / 180));
            }
        }

        private double Uniform()
        {
            state += 0x9E3779B97F4A7C15UL;
            return (Mixed(state) >> 11) * (1.0 / (1UL << 53));
        }

        /// <summary>The finalizer of SplitMix64 (Steele, Lea, Flood, OOPSLA 2014).</summary>
        private static ulong Mixed(ulong z)
        {
            z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
            z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
            return z ^ (z >> 31);
        }
    }
}
