using System.Numerics;
using System.Runtime.CompilerServices;

namespace FabLink.Engineering.Chains;

/// <summary>xoshiro256++ (D. Blackman, S. Vigna, ACM Transactions on Mathematical Software 47, 2021). Every block of samples of
/// every link has a stream of its own, started from (seed, link, block) through SplitMix64, so neither the number of threads
/// nor a link added at the end changes what another link draws.</summary>
internal struct RandomStream
{
    private ulong s0;
    private ulong s1;
    private ulong s2;
    private ulong s3;

    public RandomStream(long seed, int link, int block)
    {
        var state = Mixed(Mixed((ulong)seed + 0x9E3779B97F4A7C15UL) + (((ulong)(uint)link << 32) | (uint)block));
        s0 = Next(ref state);
        s1 = Next(ref state);
        s2 = Next(ref state);
        s3 = Next(ref state);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public ulong NextBits()
    {
        var result = BitOperations.RotateLeft(s0 + s3, 23) + s0;
        var t = s1 << 17;
        s2 ^= s0;
        s3 ^= s1;
        s1 ^= s2;
        s0 ^= s3;
        s2 ^= t;
        s3 = BitOperations.RotateLeft(s3, 45);
        return result;
    }

    /// <summary>Uniform on (0, 1), never an end.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public double NextUnit() => ((NextBits() >> 11) + 0.5) * (1.0 / (1UL << 53));

    private static ulong Next(ref ulong state)
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
