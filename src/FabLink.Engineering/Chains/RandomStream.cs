using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace FabLink.Engineering.Chains;

/// <summary>Four interleaved generators xoshiro256++ (D. Blackman, S. Vigna, ACM Transactions on Mathematical Software 47, 2021),
/// one per lane. Every block of samples of every link has a stream of its own, started from (seed, link, block) through
/// SplitMix64, so neither the number of threads nor a link added at the end changes what another link draws. Integer
/// operations only: the same bits on every machine.</summary>
internal struct RandomStream
{
    private const double UnitStep = 1.0 / (1UL << 53);

    private Vector256<ulong> s0;
    private Vector256<ulong> s1;
    private Vector256<ulong> s2;
    private Vector256<ulong> s3;

    // Draws that are asked for one at a time.
    private Vector256<ulong> spare;
    private int left;

    public RandomStream(long seed, int link, int block)
    {
        var state = Mixed(Mixed((ulong)seed + 0x9E3779B97F4A7C15UL) + (((ulong)(uint)link << 32) | (uint)block));
        s0 = Next(ref state);
        s1 = Next(ref state);
        s2 = Next(ref state);
        s3 = Next(ref state);
    }

    /// <summary>Uniform 64-bit numbers, four at a time; the last few of an uneven span use up a whole step.</summary>
    public void Fill(Span<ulong> bits)
    {
        var copy = this;
        var at = 0;
        for (; at + Vector256<ulong>.Count <= bits.Length; at += Vector256<ulong>.Count)
            copy.Step().CopyTo(bits[at..]);
        if (at < bits.Length)
        {
            var last = copy.Step();
            for (var lane = 0; at < bits.Length; lane++, at++)
                bits[at] = last.GetElement(lane);
        }
        this = copy;
    }

    public ulong NextBits()
    {
        if (left == 0)
        {
            spare = Step();
            left = Vector256<ulong>.Count;
        }
        return spare.GetElement(--left);
    }

    /// <summary>Uniform on (0, 1), never an end.</summary>
    public double NextUnit() => Unit(NextBits());

    public static double Unit(ulong bits) => ((bits >> 11) + 0.5) * UnitStep;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private Vector256<ulong> Step()
    {
        var result = Rotated(s0 + s3, 23) + s0;
        var t = s1 << 17;
        s2 ^= s0;
        s3 ^= s1;
        s1 ^= s2;
        s0 ^= s3;
        s2 ^= t;
        s3 = Rotated(s3, 45);
        return result;
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector256<ulong> Rotated(Vector256<ulong> v, int by) => (v << by) | (v >>> (64 - by));

    private static Vector256<ulong> Next(ref ulong state) => Vector256.Create(Scalar(ref state), Scalar(ref state), Scalar(ref state), Scalar(ref state));

    private static ulong Scalar(ref ulong state)
    {
        state += 0x9E3779B97F4A7C15UL;
        return Mixed(state);
    }

    private static ulong Mixed(ulong z)
    {
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
        return z ^ (z >> 31);
    }
}
