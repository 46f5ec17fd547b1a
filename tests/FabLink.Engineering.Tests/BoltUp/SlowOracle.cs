using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

/// <summary>
/// Brute force, sharing nothing with the product: a grid of angles, at each a nested golden section over the shift (the
/// violation is convex in it), then golden section over the angle around the best grid points.
/// </summary>
internal static class SlowOracle
{
    private const double Golden = 0.6180339887498949;

    /// <summary>The largest margin that was found; every value is the margin of a real move, so none can be above the truth.</summary>
    public static double Margin(Joint joint, int grid = 90)
    {
        var limit = joint.RotationLimitDegrees * Math.PI / 180;
        var angles = Enumerable.Range(0, grid + 1).Select(k => -limit + (2 * limit * k / grid)).Append(Start(joint, limit)).ToArray();
        var coarse = angles.Select(angle => Violation(joint, angle, 22)).ToArray();
        var best = double.PositiveInfinity;
        var starts = angles.Zip(coarse).OrderBy(pair => pair.Second).Take(3).Select(pair => pair.First).ToArray();
        foreach (var start in starts)
        {
            foreach (var width in (double[])[2 * limit / grid, 0.1 * limit / grid, 1e-3])
            {
                best = Math.Min(best, Section(
                    Math.Max(start - width, -limit), Math.Min(start + width, limit), 26, angle => Violation(joint, angle, 34)));
            }
        }

        return -best;
    }

    /// <summary>
    /// A general optimizer, cheap enough for thousands: random steps in shift and angle from several starts, longer after
    /// a success and shorter after a failure. Like the brute force it only ever reports margins of real moves.
    /// </summary>
    public static double ByRandomSteps(Joint joint, int seed, int steps = 1200)
    {
        var random = new Random(seed);
        var limit = joint.RotationLimitDegrees * Math.PI / 180;
        var arm = joint.Holes.Max(h => Math.Abs(h.B.X) + Math.Abs(h.B.Y)) + 1;
        var best = double.NegativeInfinity;
        for (var start = 0; start < 4; start++)
        {
            var angle = start < 2 ? Start(joint, limit) : limit * ((2 * random.NextDouble()) - 1);
            var (s, c) = Math.SinCos(angle);
            var x = joint.Holes.Average(h => h.A.X - (c * h.B.X) + (s * h.B.Y));
            var y = joint.Holes.Average(h => h.A.Y - (s * h.B.X) - (c * h.B.Y));
            var here = Least(joint, angle, x, y);
            for (var (k, step) = (0, 1d); k < steps && step > 1e-10; k++)
            {
                var angle2 = Math.Clamp(angle + (step * Normal(random) / arm), -limit, limit);
                // Turn about the middle of the holes, so that a turn does not carry the pattern away.
                var x2 = x + (step * Normal(random)) + TurnShift(joint, angle, angle2, alongX: true);
                var y2 = y + (step * Normal(random)) + TurnShift(joint, angle, angle2, alongX: false);
                var there = Least(joint, angle2, x2, y2);
                if (there > here)
                    (angle, x, y, here, step) = (angle2, x2, y2, there, step * 1.6);
                else
                    step *= 0.93;
            }

            best = Math.Max(best, here);
        }

        return best;
    }

    private static double TurnShift(Joint joint, double from, double to, bool alongX)
    {
        double bx = joint.Holes.Average(h => h.B.X), by = joint.Holes.Average(h => h.B.Y);
        var (s1, c1) = Math.SinCos(from);
        var (s2, c2) = Math.SinCos(to);
        return alongX ? ((c1 - c2) * bx) - ((s1 - s2) * by) : ((s1 - s2) * bx) + ((c1 - c2) * by);
    }

    private static double Normal(Random random) =>
        Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());

    private static double Least(Joint joint, double angle, double x, double y)
    {
        var least = double.PositiveInfinity;
        for (var i = 0; i < joint.Holes.Count; i++)
            least = Math.Min(least, Clearance(joint, i, angle, x, y));
        return least;
    }

    public static double Clearance(Joint joint, int i, double angle, double x, double y)
    {
        var hole = joint.Holes[i];
        var (s, c) = Math.SinCos(angle);
        var dx = hole.A.X - (c * hole.B.X) + (s * hole.B.Y) - x;
        var dy = hole.A.Y - (s * hole.B.X) - (c * hole.B.Y) - y;
        double distance;
        var slot = hole.A.Slot ?? hole.B.Slot;
        if (slot is null)
        {
            distance = Math.Sqrt((dx * dx) + (dy * dy));
        }
        else
        {
            var direction = (slot.AngleDegrees * Math.PI / 180) + (hole.B.Slot is null ? 0 : angle);
            var (ds, dc) = Math.SinCos(direction);
            var along = Math.Abs((dx * dc) + (dy * ds));
            var across = (dy * dc) - (dx * ds);
            var over = Math.Max(0, along - (slot.Travel / 2));
            distance = Math.Sqrt((over * over) + (across * across));
        }

        var playB = (hole.B.Diameter - (hole.B.Masked ? 0 : 2 * joint.FilmB) - hole.Fastener) / 2;
        var playA = hole.Kind == FastenerKind.Stud ? 0 : (hole.A.Diameter - (hole.A.Masked ? 0 : 2 * joint.FilmA) - hole.Fastener) / 2;
        return playA + playB - distance;
    }

    private static double Violation(Joint joint, double angle, int steps)
    {
        var (s, c) = Math.SinCos(angle);
        double lowX = double.MaxValue, highX = double.MinValue, lowY = double.MaxValue, highY = double.MinValue;
        foreach (var hole in joint.Holes)
        {
            var reach = ((hole.A.Slot ?? hole.B.Slot)?.Travel ?? 0) / 2;
            var x = hole.A.X - (c * hole.B.X) + (s * hole.B.Y);
            var y = hole.A.Y - (s * hole.B.X) - (c * hole.B.Y);
            (lowX, highX) = (Math.Min(lowX, x - reach), Math.Max(highX, x + reach));
            (lowY, highY) = (Math.Min(lowY, y - reach), Math.Max(highY, y + reach));
        }

        return Section(lowX, highX, steps, x => Section(lowY, highY, steps, y =>
        {
            var worst = double.MaxValue;
            for (var i = 0; i < joint.Holes.Count; i++)
                worst = Math.Min(worst, Clearance(joint, i, angle, x, y));
            return -worst;
        }));
    }

    private static double Start(Joint joint, double limit)
    {
        double ax = joint.Holes.Average(h => h.A.X), ay = joint.Holes.Average(h => h.A.Y);
        double bx = joint.Holes.Average(h => h.B.X), by = joint.Holes.Average(h => h.B.Y);
        var sin = joint.Holes.Sum(h => ((h.B.X - bx) * (h.A.Y - ay)) - ((h.B.Y - by) * (h.A.X - ax)));
        var cos = joint.Holes.Sum(h => ((h.B.X - bx) * (h.A.X - ax)) + ((h.B.Y - by) * (h.A.Y - ay)));
        return Math.Clamp(Math.Atan2(sin, cos), -limit, limit);
    }

    private static double Section(double low, double high, int steps, Func<double, double> value)
    {
        double p = high - (Golden * (high - low)), q = low + (Golden * (high - low));
        double atP = value(p), atQ = value(q);
        for (var k = 0; k < steps; k++)
        {
            if (atP <= atQ)
            {
                (high, q, atQ) = (q, p, atP);
                p = high - (Golden * (high - low));
                atP = value(p);
            }
            else
            {
                (low, p, atP) = (p, q, atQ);
                q = low + (Golden * (high - low));
                atQ = value(q);
            }
        }

        return Math.Min(atP, atQ);
    }
}
