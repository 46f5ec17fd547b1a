namespace FabLink.Engineering.BoltUp;

/// <summary>
/// The best shift at one angle: minimise the largest dist(q − t, slot) − c over t, a convex problem in two unknowns.
/// Exchange method on supporting planes: three planes whose directions hold the origin between them give a proof
/// and a shift; the worst hole at that shift brings the next plane, one of the three leaves, and the bound only rises.
/// </summary>
internal sealed class FixedRotation
{
    private const int MostPivots = 400;
    private const int MostWatched = 8;

    private readonly PlanarPattern pattern;
    private readonly double[] qx;
    private readonly double[] qy;
    private readonly double[] ex;
    private readonly double[] ey;
    private readonly int[] watched = new int[MostWatched];
    private readonly Cut[] basis = new Cut[3];
    private readonly double[] level = new double[3];
    private int watchedCount;
    private int watchedNext;

    public FixedRotation(PlanarPattern pattern)
    {
        this.pattern = pattern;
        qx = new double[pattern.Count];
        qy = new double[pattern.Count];
        ex = new double[pattern.Count];
        ey = new double[pattern.Count];
        Restart();
    }

    /// <summary>Largest violation at the best shift that was tried: an upper end of the answer.</summary>
    public double Upper { get; private set; }

    public double ShiftX { get; private set; }

    public double ShiftY { get; private set; }

    /// <summary>Forgets the warm start; needed when the pattern was changed in place.</summary>
    public void Restart()
    {
        var tightest = 0;
        for (var i = 1; i < pattern.Count; i++)
        {
            if (pattern.Allowance[i] < pattern.Allowance[tightest])
                tightest = i;
        }

        for (var k = 0; k < 3; k++)
        {
            var (sin, cos) = double.SinCos(2 * Math.PI * k / 3);
            basis[k] = new Cut { Hole = tightest, X = cos, Y = sin, Weight = 1d / 3 };
        }

        watched[0] = tightest;
        watchedCount = 1;
        watchedNext = 1;
        for (var i = 0; i < pattern.Count && pattern.Count <= MostWatched; i++)
        {
            watched[i] = i;
            watchedCount = pattern.Count;
        }
    }

    /// <summary>
    /// Solves at one angle to the tolerance, or, when the bound is above <paramref name="target"/> anyway,
    /// only so far that the proof is useful (a twentieth of the excess).
    /// </summary>
    public Dual Solve(double angle, double target, double tolerance)
    {
        Turn(angle);
        Upper = double.PositiveInfinity;
        for (var k = 0; k < 3; k++)
            level[k] = Level(basis[k]);
        var lower = double.NegativeInfinity;
        for (var pivot = 0; pivot < MostPivots; pivot++)
        {
            if (!Vertex(out lower, out var tx, out var ty))
                break;
            var enough = Math.Max(tolerance, 0.05 * (lower - target));
            var worst = WorstWatched(tx, ty, out var violation);
            if (violation - lower <= enough / 2)
            {
                worst = Worst(tx, ty, out violation);
                if (violation < Upper)
                    (Upper, ShiftX, ShiftY) = (violation, tx, ty);
                if (Upper - lower <= enough)
                    break;
                Watch(worst);
            }

            if (!Exchange(Support(worst, tx, ty)))
                break;
        }

        if (double.IsPositiveInfinity(Upper) && Vertex(out lower, out var lastX, out var lastY))
        {
            Worst(lastX, lastY, out var violation);
            (Upper, ShiftX, ShiftY) = (violation, lastX, lastY);
        }

        return Settled(angle);
    }

    /// <summary>
    /// The proof with its directions cancelling to the last bit: what rounding left over is taken from each of them, and
    /// all are shortened so that none is longer than 1.
    /// </summary>
    private Dual Settled(double angle)
    {
        var dual = new Dual { Angle = angle, First = basis[0], Second = basis[1], Third = basis[2] };
        for (var round = 0; round < 2; round++)
        {
            var x = (dual.First.Weight * dual.First.X) + (dual.Second.Weight * dual.Second.X) + (dual.Third.Weight * dual.Third.X);
            var y = (dual.First.Weight * dual.First.Y) + (dual.Second.Weight * dual.Second.Y) + (dual.Third.Weight * dual.Third.Y);
            var shorter = 1 / (1 + Math.Sqrt((x * x) + (y * y)));
            Shift(ref dual.First, x, y, shorter);
            Shift(ref dual.Second, x, y, shorter);
            Shift(ref dual.Third, x, y, shorter);
        }

        dual.Lower = (dual.First.Weight * Level(dual.First)) + (dual.Second.Weight * Level(dual.Second)) + (dual.Third.Weight * Level(dual.Third));
        return dual;
    }

    private static void Shift(ref Cut cut, double x, double y, double shorter)
    {
        cut.X = (cut.X - x) * shorter;
        cut.Y = (cut.Y - y) * shorter;
    }

    /// <summary>Largest violation over all holes at a given shift, at the angle last solved.</summary>
    public int Worst(double tx, double ty, out double violation)
    {
        var worst = 0;
        violation = double.NegativeInfinity;
        double[] c = pattern.Allowance, h = pattern.HalfTravel;
        for (var i = 0; i < qx.Length; i++)
        {
            double vx = qx[i] - tx, vy = qy[i] - ty;
            if (h[i] > 0)
            {
                var along = Math.Clamp((vx * ex[i]) + (vy * ey[i]), -h[i], h[i]);
                vx -= along * ex[i];
                vy -= along * ey[i];
            }

            var value = Math.Sqrt((vx * vx) + (vy * vy)) - c[i];
            if (value > violation)
                (violation, worst) = (value, i);
        }

        return worst;
    }

    private void Turn(double angle)
    {
        var (sin, cos) = double.SinCos(angle);
        double[] ax = pattern.Ax, ay = pattern.Ay, bx = pattern.Bx, by = pattern.By;
        for (var i = 0; i < qx.Length; i++)
        {
            qx[i] = ax[i] - ((cos * bx[i]) - (sin * by[i]));
            qy[i] = ay[i] - ((sin * bx[i]) + (cos * by[i]));
        }

        if (!pattern.AnySlotInA && !pattern.AnySlotInB)
            return;
        for (var i = 0; i < qx.Length; i++)
        {
            double dx = pattern.Dx[i], dy = pattern.Dy[i];
            (ex[i], ey[i]) = pattern.Turns[i] ? ((cos * dx) - (sin * dy), (sin * dx) + (cos * dy)) : (dx, dy);
        }
    }

    private int WorstWatched(double tx, double ty, out double violation)
    {
        var worst = watched[0];
        violation = double.NegativeInfinity;
        for (var k = 0; k < watchedCount; k++)
        {
            var i = watched[k];
            var value = Distance(i, tx, ty, out _, out _) - pattern.Allowance[i];
            if (value > violation)
                (violation, worst) = (value, i);
        }

        return worst;
    }

    private void Watch(int hole)
    {
        for (var k = 0; k < watchedCount; k++)
        {
            if (watched[k] == hole)
                return;
        }

        watched[watchedNext] = hole;
        watchedCount = Math.Max(watchedCount, watchedNext + 1);
        watchedNext = (watchedNext + 1) % MostWatched;
    }

    private double Distance(int i, double tx, double ty, out double vx, out double vy)
    {
        vx = qx[i] - tx;
        vy = qy[i] - ty;
        var h = pattern.HalfTravel[i];
        if (h > 0)
        {
            var along = Math.Clamp((vx * ex[i]) + (vy * ey[i]), -h, h);
            vx -= along * ex[i];
            vy -= along * ey[i];
        }

        return Math.Sqrt((vx * vx) + (vy * vy));
    }

    private Cut Support(int hole, double tx, double ty)
    {
        var distance = Distance(hole, tx, ty, out var vx, out var vy);
        return distance > 0
            ? new Cut { Hole = hole, X = vx / distance, Y = vy / distance }
            : new Cut { Hole = hole };
    }

    /// <summary>Height of a plane at zero shift.</summary>
    private double Level(in Cut cut)
    {
        var i = cut.Hole;
        var value = (cut.X * qx[i]) + (cut.Y * qy[i]) - pattern.Allowance[i];
        var h = pattern.HalfTravel[i];
        return h > 0 ? value - (h * Math.Abs((cut.X * ex[i]) + (cut.Y * ey[i]))) : value;
    }

    /// <summary>Where the three planes meet: the bound and its shift.</summary>
    private bool Vertex(out double lower, out double tx, out double ty)
    {
        double x0 = basis[0].X - basis[2].X, y0 = basis[0].Y - basis[2].Y;
        double x1 = basis[1].X - basis[2].X, y1 = basis[1].Y - basis[2].Y;
        double r0 = level[0] - level[2], r1 = level[1] - level[2];
        var det = (x0 * y1) - (x1 * y0);
        lower = (basis[0].Weight * level[0]) + (basis[1].Weight * level[1]) + (basis[2].Weight * level[2]);
        tx = ((r0 * y1) - (r1 * y0)) / det;
        ty = ((x0 * r1) - (x1 * r0)) / det;
        return double.IsFinite(tx) && double.IsFinite(ty);
    }

    /// <summary>Puts a plane in the place of the one that leaves the origin between the three and lifts the bound most.</summary>
    private bool Exchange(Cut entering)
    {
        var enteringLevel = Level(entering);
        var leaving = -1;
        double best = double.NegativeInfinity, w0 = 0, w1 = 0, w2 = 0;
        for (var k = 0; k < 3; k++)
        {
            var p0 = k == 0 ? entering : basis[0];
            var p1 = k == 1 ? entering : basis[1];
            var p2 = k == 2 ? entering : basis[2];
            var c0 = (p1.X * p2.Y) - (p1.Y * p2.X);
            var c1 = (p2.X * p0.Y) - (p2.Y * p0.X);
            var c2 = (p0.X * p1.Y) - (p0.Y * p1.X);
            var area = c0 + c1 + c2;
            if (Math.Abs(area) < 1e-14)
                continue;
            (c0, c1, c2) = (c0 / area, c1 / area, c2 / area);
            if (Math.Min(c0, Math.Min(c1, c2)) < 0)
                continue;
            var value = (c0 * (k == 0 ? enteringLevel : level[0]))
                + (c1 * (k == 1 ? enteringLevel : level[1]))
                + (c2 * (k == 2 ? enteringLevel : level[2]));
            if (value > best)
                (best, leaving, w0, w1, w2) = (value, k, c0, c1, c2);
        }

        if (leaving < 0)
            return false;
        basis[leaving] = entering;
        level[leaving] = enteringLevel;
        basis[0].Weight = w0;
        basis[1].Weight = w1;
        basis[2].Weight = w2;
        return true;
    }
}
