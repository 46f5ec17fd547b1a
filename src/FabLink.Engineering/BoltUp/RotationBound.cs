namespace FabLink.Engineering.BoltUp;

/// <summary>
/// What one <see cref="Dual"/> says about every angle: K + C·cos θ + S·sin θ − Σ m·|cos(θ − ψ)|, exact, no
/// linearization. The folds come from slots that turn against the directions; directions held to part a fold at
/// the slots of b, directions held to part b (they turn with it) at the slots of a.
/// </summary>
internal struct RotationBound
{
    private double constant;
    private double cosine;
    private double sine;
    private int folds;
    private Fold first;
    private Fold second;
    private Fold third;

    /// <summary>True when the directions turn with part b.</summary>
    public bool HeldToB { get; private set; }

    public static RotationBound Of(in Dual dual, PlanarPattern pattern, bool heldToB)
    {
        var bound = new RotationBound { HeldToB = heldToB };
        var (sin, cos) = double.SinCos(dual.Angle);
        bound.Add(dual.First, pattern, cos, sin);
        bound.Add(dual.Second, pattern, cos, sin);
        bound.Add(dual.Third, pattern, cos, sin);
        return bound;
    }

    public readonly double Value(double angle)
    {
        var (sin, cos) = double.SinCos(angle);
        var value = constant + (cosine * cos) + (sine * sin);
        for (var k = 0; k < folds; k++)
            value -= At(k).Size * Math.Abs(Math.Cos(angle - At(k).Phase));
        return value;
    }

    /// <summary>Derivative by the angle; at a fold the value of the side towards larger angles.</summary>
    public readonly double Slope(double angle)
    {
        var (sin, cos) = double.SinCos(angle);
        var slope = (sine * cos) - (cosine * sin);
        for (var k = 0; k < folds; k++)
        {
            var (s, c) = double.SinCos(angle - At(k).Phase);
            slope += At(k).Size * s * (c >= 0 ? 1 : -1);
        }

        return slope;
    }

    /// <summary>How far from <paramref name="angle"/> the bound stays at or above the target, walking one way, at most 2π.</summary>
    public readonly double Reach(double angle, bool forward, double target)
    {
        double walked = 0;
        while (walked < 2 * Math.PI)
        {
            var here = forward ? angle + walked : angle - walked;
            var piece = PieceLength(here, forward);
            Piece(forward ? here + (piece / 2) : here - (piece / 2), out var c, out var s);
            var amplitude = Math.Sqrt((c * c) + (s * s));
            var level = target - constant;
            if (level > -amplitude)
            {
                if (level >= amplitude)
                    return walked;
                var half = Math.Acos(level / amplitude);
                var offset = Math.IEEERemainder(here - Math.Atan2(s, c), 2 * Math.PI);
                var left = forward ? half - offset : half + offset;
                if (left < piece)
                    return walked + Math.Max(left, 0);
            }

            walked += piece;
        }

        return 2 * Math.PI;
    }

    /// <summary>The smallest value between two angles, exact up to rounding.</summary>
    public readonly double Minimum(double from, double to)
    {
        var least = Math.Min(Value(from), Value(to));
        var here = from;
        while (here < to)
        {
            var end = Math.Min(here + PieceLength(here, forward: true), to);
            Piece((here + end) / 2, out var c, out var s);
            var bottom = Math.Atan2(s, c) + Math.PI;
            bottom += 2 * Math.PI * Math.Ceiling((here - bottom) / (2 * Math.PI));
            if (bottom <= end)
                least = Math.Min(least, Value(bottom));
            least = Math.Min(least, Value(end));
            here = end;
        }

        return least;
    }

    private void Add(in Cut cut, PlanarPattern pattern, double cos, double sin)
    {
        if (cut.Weight <= 0)
            return;
        var i = cut.Hole;
        double px = cut.Weight * cut.X, py = cut.Weight * cut.Y;
        double ax = pattern.Ax[i], ay = pattern.Ay[i], bx = pattern.Bx[i], by = pattern.By[i];
        constant -= cut.Weight * pattern.Allowance[i];
        if (HeldToB)
        {
            (px, py) = ((cos * px) + (sin * py), (cos * py) - (sin * px));
            constant -= (px * bx) + (py * by);
            cosine += (px * ax) + (py * ay);
            sine += (px * ay) - (py * ax);
        }
        else
        {
            constant += (px * ax) + (py * ay);
            cosine -= (px * bx) + (py * by);
            sine -= (py * bx) - (px * by);
        }

        var h = pattern.HalfTravel[i];
        if (h == 0)
            return;
        double dx = pattern.Dx[i], dy = pattern.Dy[i];
        if (pattern.Turns[i] == HeldToB)
        {
            constant -= h * Math.Abs((px * dx) + (py * dy));
            return;
        }

        var size = h * Math.Sqrt((px * px) + (py * py));
        if (size == 0)
            return;
        // Direction against slot: the angle between them, whichever of the two turns.
        var phase = HeldToB
            ? Math.Atan2((px * dy) - (py * dx), (px * dx) + (py * dy))
            : Math.Atan2((dx * py) - (dy * px), (px * dx) + (py * dy));
        var fold = new Fold { Size = size, Phase = phase };
        switch (folds++)
        {
            case 0: first = fold; break;
            case 1: second = fold; break;
            default: third = fold; break;
        }
    }

    private readonly Fold At(int k) => k == 0 ? first : k == 1 ? second : third;

    /// <summary>Length of the piece without a fold that starts here; 2π when there is none.</summary>
    private readonly double PieceLength(double angle, bool forward)
    {
        var length = 2 * Math.PI;
        for (var k = 0; k < folds; k++)
        {
            // Folds lie where the cosine changes sign, every half turn.
            var past = Math.IEEERemainder(angle - At(k).Phase - (Math.PI / 2), Math.PI);
            var next = forward ? -past : past;
            if (next <= 1e-14)
                next += Math.PI;
            length = Math.Min(length, next);
        }

        return length;
    }

    /// <summary>The plain sinusoid that holds in the piece around an angle.</summary>
    private readonly void Piece(double inside, out double c, out double s)
    {
        (c, s) = (cosine, sine);
        for (var k = 0; k < folds; k++)
        {
            var fold = At(k);
            var size = Math.Cos(inside - fold.Phase) >= 0 ? fold.Size : -fold.Size;
            c -= size * Math.Cos(fold.Phase);
            s -= size * Math.Sin(fold.Phase);
        }
    }

    private struct Fold
    {
        public double Size;
        public double Phase;
    }
}
