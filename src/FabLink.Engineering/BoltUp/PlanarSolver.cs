namespace FabLink.Engineering.BoltUp;

/// <summary>One stretch of angles and the proof that holds on it.</summary>
internal readonly record struct ProvenArc(double From, double To, Dual Dual, double Lower);

/// <summary>
/// Certified planar bolt-up: minimise over the angle the best violation f(θ) of <see cref="FixedRotation"/>.
/// Every solve at one angle gives a bound at all angles (<see cref="RotationBound"/>). A descent finds a minimum between
/// a falling and a rising bound; then the bounds are laid side by side until they cover every permitted angle, each
/// solve covering an arc that grows with its distance from the minimum. Lengths in mm, angles in radian.
/// </summary>
internal sealed class PlanarSolver
{
    /// <summary>Gap that is aimed at, mm; less than half of what is promised, the rest is for rounding.</summary>
    public const double UsualGap = 4e-7;
    private const double FullTurn = 2 * Math.PI;

    /// <summary>Past this many solves the target is given up step by step; the bound that is reported stays true.</summary>
    private const int PatientSolves = 100000;

    private readonly PlanarPattern pattern;
    private readonly FixedRotation fixedRotation;
    private readonly List<Dual> duals = new(64);
    private readonly double gap;
    private readonly CancellationToken cancellation;
    private readonly double limit;
    private readonly bool wholeCircle;
    private double target;
    private bool deciding;
    private double low;
    private double high;

    public PlanarSolver(PlanarPattern pattern, double rotationLimit, double gap = UsualGap, CancellationToken cancellation = default)
    {
        this.pattern = pattern;
        this.gap = gap;
        this.cancellation = cancellation;
        limit = rotationLimit;
        wholeCircle = rotationLimit >= Math.PI;
        fixedRotation = new FixedRotation(pattern);
    }

    /// <summary>Smallest worst violation that was found; the margin is its opposite.</summary>
    public double Best { get; private set; }

    public double Angle { get; private set; }

    /// <summary>Shift between the centred patterns at <see cref="Angle"/>.</summary>
    public double ShiftX { get; private set; }

    public double ShiftY { get; private set; }

    public int Solves => duals.Count;

    /// <summary>Every proof that was made; those at the optimum say what the margin hangs on.</summary>
    public IReadOnlyList<Dual> Duals => duals;

    /// <summary>Finds the optimum and the arcs that prove it: abutting, from −limit to +limit.</summary>
    public IReadOnlyList<ProvenArc> Solve()
    {
        Begin(decide: false);
        Descend(Evaluate(Start()));
        PreferNoRotation();
        CoverAll();
        return Arcs();
    }

    /// <summary>Only whether all fasteners pass: stops at the first move that does or at the proof that none can.</summary>
    public bool Passes()
    {
        fixedRotation.Restart();
        Begin(decide: true);
        var first = Evaluate(Start());
        if (Best <= 0)
            return true;
        Descend(first);
        return Best <= 0 || !CoverAll();
    }

    private void Begin(bool decide)
    {
        deciding = decide;
        duals.Clear();
        Best = double.PositiveInfinity;
        target = decide ? 0 : double.PositiveInfinity;
        (low, high) = wholeCircle ? (double.NegativeInfinity, double.PositiveInfinity) : (-limit, limit);
    }

    /// <summary>Least squares angle of the two patterns; zero where it is undefined.</summary>
    private double Start()
    {
        double cos = 0, sin = 0;
        for (var i = 0; i < pattern.Count; i++)
        {
            cos += (pattern.Bx[i] * pattern.Ax[i]) + (pattern.By[i] * pattern.Ay[i]);
            sin += (pattern.Bx[i] * pattern.Ay[i]) - (pattern.By[i] * pattern.Ax[i]);
        }

        return Math.Clamp(Math.Atan2(sin, cos), low, high);
    }

    private int Evaluate(double angle)
    {
        cancellation.ThrowIfCancellationRequested();
        var dual = fixedRotation.Solve(angle, target, gap / 12);
        if (fixedRotation.Upper < Best)
        {
            Best = fixedRotation.Upper;
            (Angle, ShiftX, ShiftY) = (angle, fixedRotation.ShiftX, fixedRotation.ShiftY);
            if (!deciding)
                target = Math.Min(target, Best - gap);
        }

        dual.Bound = RotationBound.Of(dual, pattern, heldToB: pattern.AnySlotInB);
        Span(ref dual);
        if (pattern.AnySlotInA && pattern.AnySlotInB)
        {
            // Slots in both parts: hold the directions to the part whose slots fold the bound less.
            var other = dual;
            other.Bound = RotationBound.Of(dual, pattern, heldToB: false);
            Span(ref other);
            if (other.To - other.From > dual.To - dual.From)
                dual = other;
        }

        duals.Add(dual);
        return duals.Count - 1;
    }

    private void Span(ref Dual dual)
    {
        dual.From = dual.Angle - dual.Bound.Reach(dual.Angle, forward: false, target);
        dual.To = dual.Angle + dual.Bound.Reach(dual.Angle, forward: true, target);
    }

    private void SpanAll()
    {
        foreach (ref var dual in System.Runtime.InteropServices.CollectionsMarshal.AsSpan(duals))
            Span(ref dual);
    }

    /// <summary>Walks downhill from one solve to a minimum, squeezed between a falling and a rising bound.</summary>
    private void Descend(int start)
    {
        var slope = duals[start].Bound.Slope(duals[start].Angle);
        if (Math.Abs(slope) <= 1e-12)
        {
            SpanAll();
            return;
        }

        int left = -1, right = -1;
        var here = start;
        var step = FirstStep(duals[start].Lower);
        for (var k = 0; k < 60 && (left < 0 || right < 0); k++)
        {
            if (slope < 0)
                left = here;
            else
                right = here;
            if (left >= 0 && right >= 0)
                break;
            var next = Math.Clamp(slope < 0 ? duals[here].Angle + step : duals[here].Angle - step, low, high);
            if (next == duals[here].Angle || Math.Abs(next - duals[start].Angle) > FullTurn || (deciding && Best <= 0))
                break;
            here = Evaluate(next);
            slope = duals[here].Bound.Slope(next);
            step *= 3;
        }

        if (left >= 0 && right >= 0)
            Squeeze(left, right);
        SpanAll();
    }

    private void Squeeze(int left, int right)
    {
        for (var k = 0; k < 80; k++)
        {
            double from = duals[left].Angle, to = duals[right].Angle;
            var (crossing, height) = Crossing(left, right);
            if (height >= target || (deciding && Best <= 0))
                return;
            var next = crossing;
            if (k % 2 == 1)
            {
                // Where f is smooth the slopes find the minimum faster than the crossing does.
                double falling = duals[left].Bound.Slope(from), rising = duals[right].Bound.Slope(to);
                next = from + ((to - from) * Math.Clamp(-falling / (rising - falling), 0.01, 0.99));
            }

            if (!(next > from && next < to))
                return;
            var here = Evaluate(next);
            if (duals[here].Bound.Slope(next) < 0)
                left = here;
            else
                right = here;
        }
    }

    /// <summary>Where the falling bound meets the rising one; f is nowhere lower between the two.</summary>
    private (double Angle, double Height) Crossing(int left, int right)
    {
        var falling = duals[left].Bound;
        var rising = duals[right].Bound;
        double from = duals[left].Angle, to = duals[right].Angle;
        double above = falling.Value(from) - rising.Value(from), below = falling.Value(to) - rising.Value(to);
        if (!(above > 0 && below < 0))
            return ((from + to) / 2, double.NegativeInfinity);
        var middle = from;
        for (var k = 0; k < 60; k++)
        {
            var previous = middle;
            middle = from + ((to - from) * (above / (above - below)));
            var difference = falling.Value(middle) - rising.Value(middle);
            if (Math.Abs(difference) <= 1e-12 || middle == previous)
                break;
            // Illinois rule: an end that stays is trusted half as much.
            if (difference > 0)
                (from, above, below) = (middle, difference, below / 2);
            else
                (to, below, above) = (middle, difference, above / 2);
        }

        return (middle, Math.Min(falling.Value(middle), rising.Value(middle)));
    }

    private double FirstStep(double violation)
    {
        double arm = 0, play = Math.Abs(violation);
        for (var i = 0; i < pattern.Count; i++)
        {
            arm = Math.Max(arm, Math.Abs(pattern.Bx[i]) + Math.Abs(pattern.By[i]));
            play = Math.Max(play, Math.Abs(pattern.Allowance[i]));
        }

        return Math.Clamp(0.1 * play / arm, 1e-9, 0.5);
    }

    /// <summary>Of equally good moves a person takes the one without a turn.</summary>
    private void PreferNoRotation()
    {
        if (Angle == 0 || duals.Any(dual => dual.Bound.Value(0) > Best + 1e-9))
            return;
        var (best, angle, x, y) = (Best, Angle, ShiftX, ShiftY);
        Evaluate(0);
        if (Best < best || fixedRotation.Upper > best + 1e-9)
            return;
        (Best, Angle, ShiftX, ShiftY) = (fixedRotation.Upper, 0, fixedRotation.ShiftX, fixedRotation.ShiftY);
    }

    private bool CoverAll()
    {
        if (wholeCircle)
            (low, high) = (Angle - Math.PI, Angle + Math.PI);
        var start = Angle;
        return Cover(start, forward: true) && Cover(start, forward: false);
    }

    /// <summary>Lays arcs side by side from the optimum to one end; false when, deciding, a move turned up that passes.</summary>
    private bool Cover(double start, bool forward)
    {
        var frontier = start;
        var end = forward ? high : low;
        var step = 0d;
        var ahead = Enumerable.Range(0, duals.Count).ToList();
        while (true)
        {
            frontier = Extend(frontier, forward, ahead);
            if (forward ? frontier >= end : frontier <= end)
                return true;
            if (step == 0)
                step = Math.Max(Math.Abs(frontier - start), 1e-9);
            var angle = forward ? Math.Min(frontier + step, end) : Math.Max(frontier - step, end);
            if (step < 1e-12)
                angle = frontier;
            var before = Best;
            var here = Evaluate(angle);
            if (deciding && Best <= 0)
                return false;
            if (Best < before - gap)
                Descend(here);
            if (deciding && Best <= 0)
                return false;
            for (var k = ahead.Count == 0 ? here : Math.Max(here, ahead[^1] + 1); k < duals.Count; k++)
                ahead.Add(k);
            if (duals.Count > PatientSolves || (angle == frontier && duals[here].Lower <= target))
            {
                if (deciding)
                    return false;
                target = Math.Min(target - gap, duals[here].Lower - gap);
                SpanAll();
            }

            var near = forward ? duals[here].From : duals[here].To;
            var reached = forward ? near <= frontier : near >= frontier;
            step = reached ? 0.9 * Math.Abs((forward ? duals[here].To : duals[here].From) - angle) : step / 3;
        }
    }

    /// <summary>Follows the arcs that hold the frontier; those that end before it are dropped from the list.</summary>
    private double Extend(double frontier, bool forward, List<int> ahead)
    {
        while (true)
        {
            var furthest = frontier;
            var kept = 0;
            for (var j = 0; j < ahead.Count; j++)
            {
                var k = ahead[j];
                var (near, far) = forward ? (duals[k].From, duals[k].To) : (-duals[k].To, -duals[k].From);
                var here = forward ? frontier : -frontier;
                if (far <= here)
                    continue;
                ahead[kept++] = k;
                if (near <= here)
                    furthest = forward ? Math.Max(furthest, far) : Math.Min(furthest, -far);
            }

            ahead.RemoveRange(kept, ahead.Count - kept);
            if (furthest == frontier || (forward ? furthest >= high : furthest <= low))
                return furthest;
            frontier = furthest;
        }
    }

    /// <summary>The fewest arcs that cover everything, cut in the middle of their overlaps, from −limit to limit.</summary>
    private List<ProvenArc> Arcs()
    {
        var byFrom = Enumerable.Range(0, duals.Count).OrderBy(k => duals[k].From).ToArray();
        var chain = new List<(double From, double To, int Dual)>();
        var position = low;
        int next = 0, choice = -1;
        do
        {
            for (; next < byFrom.Length && duals[byFrom[next]].From <= position; next++)
            {
                if (choice < 0 || duals[byFrom[next]].To > duals[choice].To)
                    choice = byFrom[next];
            }

            if (choice < 0 || duals[choice].To < position || (duals[choice].To == position && position < high))
                throw new InvalidOperationException("The arcs leave a gap; the covering is broken.");
            if (chain.Count > 0)
            {
                var last = chain[^1];
                var cut = (Math.Max(duals[choice].From, last.From) + position) / 2;
                chain[^1] = (last.From, cut, last.Dual);
                position = cut;
            }

            var to = Math.Min(duals[choice].To, high);
            chain.Add((position, to, choice));
            position = to;
        }
        while (position < high);

        return wholeCircle ? Wrapped(chain) : chain.ConvertAll(arc => Proven(arc.From, arc.To, arc.Dual));
    }

    /// <summary>Cuts at ±π and turns every piece back into [−π, π], ends shared to the last bit.</summary>
    private List<ProvenArc> Wrapped(List<(double From, double To, int Dual)> chain)
    {
        var pieces = new List<(double From, double To, int Dual)>();
        foreach (var arc in chain)
        {
            var turns = Math.Floor((arc.From + Math.PI) / FullTurn);
            double from = arc.From - (turns * FullTurn), to = arc.To - (turns * FullTurn);
            if (to > Math.PI)
            {
                pieces.Add((from, Math.PI, arc.Dual));
                pieces.Add((-Math.PI, to - FullTurn, arc.Dual));
            }
            else
            {
                pieces.Add((from, to, arc.Dual));
            }
        }

        pieces.Sort((p, q) => p.From.CompareTo(q.From));
        var result = new List<ProvenArc>(pieces.Count);
        var at = -Math.PI;
        for (var k = 0; k < pieces.Count; k++)
        {
            var to = k == pieces.Count - 1 ? Math.PI : pieces[k + 1].From;
            if (to <= at)
                continue;
            result.Add(Proven(at, to, pieces[k].Dual));
            at = to;
        }

        return result;
    }

    private ProvenArc Proven(double from, double to, int dual) =>
        new(from, to, duals[dual], duals[dual].Bound.Minimum(from, to));
}
