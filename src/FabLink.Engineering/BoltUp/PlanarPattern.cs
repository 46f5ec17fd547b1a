namespace FabLink.Engineering.BoltUp;

/// <summary>
/// The joint as plain arrays, each part about its own centroid, so that coordinates of 1e6 mm cost no digits.
/// Hole i passes under the rotation θ and shift t when dist(a − R(θ)b − t, slot) ≤ c.
/// </summary>
internal sealed class PlanarPattern
{
    public PlanarPattern(int count)
    {
        Count = count;
        Ax = new double[count];
        Ay = new double[count];
        Bx = new double[count];
        By = new double[count];
        Allowance = new double[count];
        HalfTravel = new double[count];
        Dx = new double[count];
        Dy = new double[count];
        Turns = new bool[count];
    }

    public int Count { get; }

    public double[] Ax { get; }

    public double[] Ay { get; }

    public double[] Bx { get; }

    public double[] By { get; }

    public double[] Allowance { get; }

    /// <summary>Half the slot's travel; zero for a round hole.</summary>
    public double[] HalfTravel { get; }

    public double[] Dx { get; }

    public double[] Dy { get; }

    /// <summary>True for a slot in b: its direction turns with the part.</summary>
    public bool[] Turns { get; }

    public bool AnySlotInA { get; private set; }

    public bool AnySlotInB { get; private set; }

    public double CentreAx { get; private set; }

    public double CentreAy { get; private set; }

    public double CentreBx { get; private set; }

    public double CentreBy { get; private set; }

    public static PlanarPattern Of(Joint joint)
    {
        var pattern = new PlanarPattern(joint.Holes.Count);
        for (var i = 0; i < pattern.Count; i++)
        {
            var hole = joint.Holes[i];
            pattern.Ax[i] = hole.A.X;
            pattern.Ay[i] = hole.A.Y;
            pattern.Bx[i] = hole.B.X;
            pattern.By[i] = hole.B.Y;
            pattern.Allowance[i] = joint.Allowance(hole);
            if ((hole.A.Slot ?? hole.B.Slot) is not { } slot)
                continue;
            var (sin, cos) = double.SinCos(slot.AngleDegrees * (Math.PI / 180));
            pattern.HalfTravel[i] = slot.Travel / 2;
            pattern.Dx[i] = cos;
            pattern.Dy[i] = sin;
            pattern.Turns[i] = hole.B.Slot is not null;
            pattern.AnySlotInA |= hole.A.Slot is not null;
            pattern.AnySlotInB |= hole.B.Slot is not null;
        }

        pattern.Centre();
        return pattern;
    }

    /// <summary>Moves both parts to their centroids; the shift is kept for the way back.</summary>
    public void Centre()
    {
        (CentreAx, CentreAy) = Centre(Ax, Ay);
        (CentreBx, CentreBy) = Centre(Bx, By);
    }

    private static (double X, double Y) Centre(double[] x, double[] y)
    {
        // Relative to the first hole: a mean of large numbers would itself lose digits.
        double x0 = x[0], y0 = y[0], sumX = 0, sumY = 0;
        for (var i = 0; i < x.Length; i++)
        {
            sumX += x[i] - x0;
            sumY += y[i] - y0;
        }

        double cx = x0 + (sumX / x.Length), cy = y0 + (sumY / x.Length);
        for (var i = 0; i < x.Length; i++)
        {
            x[i] -= cx;
            y[i] -= cy;
        }

        return (cx, cy);
    }
}
