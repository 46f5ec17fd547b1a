namespace FabLink.Engineering.Chains;

/// <summary>Least and greatest closing measure of a loop whose values move between their limits.</summary>
internal sealed class LoopExtremes
{
    /// <summary>Up to 2¹⁴ corners are all tried; beyond, corners are improved one value at a time from the first order guess.</summary>
    public const int MostEnumerated = 14;

    /// <summary>The same for a search that asks for the corners again and again.</summary>
    public const int MostEnumeratedOften = 7;

    private const int Grid = 8;
    private const int MaximumRounds = 50;

    private readonly PlanarLoop loop;
    private readonly double[] lower;
    private readonly double[] upper;
    private readonly double[] middles;
    private readonly double[] sensitivities;
    private readonly double expected;
    private readonly int[] free;
    private readonly int mostEnumerated;

    public LoopExtremes(
        PlanarLoop loop, Variable[] variables, double[] sensitivities, double expected, int mostEnumerated = MostEnumerated)
    {
        this.mostEnumerated = mostEnumerated;
        this.loop = loop;
        this.sensitivities = sensitivities;
        this.expected = expected;
        lower = [.. variables.Select(v => v.Lower)];
        upper = [.. variables.Select(v => v.Upper)];
        middles = [.. variables.Select(v => v.Middle)];
        free = [.. Enumerable.Range(0, variables.Length).Where(i => variables[i].Half > 0)];
    }

    public bool IsExhaustive => free.Length <= mostEnumerated;

    /// <summary>All combinations of limits; with <paramref name="held"/> that value stays at <paramref name="at"/>.</summary>
    public Bounds Corners(int held = -1, double at = 0)
    {
        var moving = Array.FindAll(free, i => i != held);
        var values = (double[])middles.Clone();
        if (held >= 0)
            values[held] = at;
        return new Bounds(Corner(values, moving, -1, out _), Corner(values, moving, 1, out _));
    }

    /// <summary>From the best corners each value in turn is moved to its best place between its limits until nothing improves.</summary>
    public Bounds Inside(int held = -1, double at = 0)
    {
        var moving = Array.FindAll(free, i => i != held);
        var values = (double[])middles.Clone();
        if (held >= 0)
            values[held] = at;
        return new Bounds(Ascend(values, moving, -1), Ascend(values, moving, 1));
    }

    private double Value(double[] values, int sign) => sign * loop.Close(values, expected);

    private double Corner(double[] start, int[] moving, int sign, out double[] where)
    {
        where = (double[])start.Clone();
        foreach (var i in moving)
            where[i] = sign * sensitivities[i] >= 0 ? upper[i] : lower[i];
        var best = Value(where, sign);
        if (moving.Length <= mostEnumerated)
        {
            var trial = (double[])start.Clone();
            for (var corner = 0; corner < 1 << moving.Length; corner++)
            {
                for (var k = 0; k < moving.Length; k++)
                    trial[moving[k]] = (corner >> k & 1) == 1 ? upper[moving[k]] : lower[moving[k]];
                var value = Value(trial, sign);
                if (value > best)
                    (best, where) = (value, (double[])trial.Clone());
            }
            return sign * best;
        }

        for (var (round, improved) = (0, true); improved && round < MaximumRounds; round++)
        {
            improved = false;
            foreach (var i in moving)
            {
                var kept = where[i];
                where[i] = kept == lower[i] ? upper[i] : lower[i];
                var value = Value(where, sign);
                if (value > best)
                    (best, improved) = (value, true);
                else
                    where[i] = kept;
            }
        }
        return sign * best;
    }

    private double Ascend(double[] start, int[] moving, int sign)
    {
        var best = sign * Corner(start, moving, sign, out var values);
        for (var round = 0; round < MaximumRounds; round++)
        {
            var before = best;
            foreach (var i in moving)
                best = Math.Max(best, Along(values, i, sign, best));
            if (best - before <= 1e-12 * Math.Abs(best))
                break;
        }
        return sign * best;
    }

    /// <summary>A grid finds the hump, golden sections its top.</summary>
    private double Along(double[] values, int i, int sign, double best)
    {
        var (kept, step) = (values[i], (upper[i] - lower[i]) / Grid);
        double At(double x)
        {
            values[i] = x;
            return Value(values, sign);
        }
        var (top, at) = (best, kept);
        for (var k = 0; k <= Grid; k++)
        {
            var x = k == Grid ? upper[i] : lower[i] + (k * step);
            var value = At(x);
            if (value > top)
                (top, at) = (value, x);
        }
        var golden = (Math.Sqrt(5) - 1) / 2;
        var (a, b) = (Math.Max(lower[i], at - step), Math.Min(upper[i], at + step));
        for (var k = 0; k < 60; k++)
        {
            var (c, d) = (b - (golden * (b - a)), a + (golden * (b - a)));
            var (fc, fd) = (At(c), At(d));
            if (Math.Max(fc, fd) > top)
                (top, at) = fc > fd ? (fc, c) : (fd, d);
            if (fc > fd)
                b = d;
            else
                a = c;
        }
        values[i] = at;
        return top;
    }
}
