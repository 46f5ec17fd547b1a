using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace FabLink.Engineering.Geometry;

/// <summary>What a set of points must be before anything can be fitted to it. Every fault names the point or says why the set
/// does not determine the feature.</summary>
internal static class PointChecks
{
    /// <summary>A spread below this part of the largest one cannot be told from rounding in second moments, whose own
    /// rounding is about the square root of the machine's precision.</summary>
    public const double RankTolerance = 1e-7;

    private const int MostCounted = 8;

    /// <summary>All finite, and at least <paramref name="needed"/> (≤ 8) different places.</summary>
    public static void Require(ReadOnlySpan<Vector2D> points, int needed, string feature)
    {
        if (!AllFinite(MemoryMarshal.Cast<Vector2D, double>(points)))
            throw NotFinite(IndexOfFault(points, static p => p.IsFinite));
        RequireDistinct(points, needed, feature);
    }

    /// <inheritdoc cref="Require(ReadOnlySpan{Vector2D}, int, string)"/>
    public static void Require(ReadOnlySpan<Vector3D> points, int needed, string feature)
    {
        if (!AllFinite(MemoryMarshal.Cast<Vector3D, double>(points)))
            throw NotFinite(IndexOfFault(points, static p => p.IsFinite));
        RequireDistinct(points, needed, feature);
    }

    public static InputError NotFinite(int index) =>
        new($"points/{index}", $"point {index + 1} has a coordinate that is not a finite number");

    public static InputError Degenerate(string feature, string why) =>
        new("points", $"a {feature} is not determined: {why}");

    /// <summary>x − x is zero for every finite number and not a number for the others.</summary>
    private static bool AllFinite(ReadOnlySpan<double> numbers)
    {
        var sum = Vector256<double>.Zero;
        var at = 0;
        for (; at + Vector256<double>.Count <= numbers.Length; at += Vector256<double>.Count)
        {
            var v = Vector256.Create(numbers.Slice(at, Vector256<double>.Count));
            sum += v - v;
        }
        var rest = Vector256.Sum(sum);
        foreach (var x in numbers[at..])
            rest += x - x;
        return rest == 0;
    }

    private static int IndexOfFault<T>(ReadOnlySpan<T> points, Predicate<T> isFinite)
    {
        var index = 0;
        while (isFinite(points[index]))
            index++;
        return index;
    }

    private static void RequireDistinct<T>(ReadOnlySpan<T> points, int needed, string feature)
        where T : struct, IEquatable<T>
    {
        if (points.Length < needed)
            throw new InputError("points", $"a {feature} needs at least {needed} points, {points.Length} given");

        var seen = new T[Math.Min(needed, MostCounted)];
        var count = 0;
        foreach (var p in points)
        {
            if (seen.AsSpan(0, count).Contains(p))
                continue;
            seen[count++] = p;
            if (count == needed)
                return;
        }
        throw new InputError(
            "points",
            $"a {feature} needs at least {needed} different points; of the {points.Length} given only {count} differ, the rest are repeated");
    }
}
