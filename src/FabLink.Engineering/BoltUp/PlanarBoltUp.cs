namespace FabLink.Engineering.BoltUp;

/// <summary>
/// Can every fastener of a joint pass at once, and by how much? Planar, certified; the proof is checked by
/// <see cref="CertificateCheck"/> before anything is returned. Method and derivation: docs/calculations/bolt-up.md.
/// </summary>
public static class PlanarBoltUp
{
    /// <summary>Touching counts as passing; this much, mm, is lost in the last digits of a double.</summary>
    internal const double Touching = 1e-9;

    /// <summary>Gap between margin and upper bound that is promised, mm.</summary>
    public const double PromisedGap = 1e-6;

    /// <summary>Gap that is aimed at when the usual one leaves open whether the margin is above or below zero.</summary>
    private const double FineGap = 5e-10;

    private const double LimitingWithin = 1e-5;

    /// <summary>Solves a joint. Throws <see cref="InputError"/> for what cannot be a joint.</summary>
    /// <param name="joint">Lengths in mm.</param>
    /// <param name="cancellation">Asked before every solve at one angle.</param>
    public static JointSolution Solve(Joint joint, CancellationToken cancellation = default)
    {
        var solution = Unchecked(joint.Validated(), cancellation);
        if (CertificateCheck.Objection(joint, solution) is { } objection)
            throw new InvalidOperationException($"The proof of this answer does not hold: {objection}");
        return solution;
    }

    internal static JointSolution Unchecked(Joint joint, CancellationToken cancellation = default)
    {
        var pattern = PlanarPattern.Of(joint);
        var solution = Unchecked(joint, pattern, PlanarSolver.UsualGap, cancellation);
        return solution.Margin < 0 && solution.UpperBound >= 0 ? Unchecked(joint, pattern, FineGap, cancellation) : solution;
    }

    private static JointSolution Unchecked(Joint joint, PlanarPattern pattern, double gap, CancellationToken cancellation)
    {
        var solver = new PlanarSolver(pattern, joint.RotationLimitDegrees * (Math.PI / 180), gap, cancellation);
        var arcs = solver.Solve();
        var move = MoveOf(pattern, solver);
        var holes = new HoleClearance[joint.Holes.Count];
        var margin = double.PositiveInfinity;
        for (var i = 0; i < holes.Length; i++)
        {
            holes[i] = new HoleClearance(joint.Holes[i].Name, ClearanceLeft(joint, joint.Holes[i], move));
            margin = Math.Min(margin, holes[i].ClearanceLeft);
        }

        var intervals = arcs.Select(arc => Interval(joint, arc)).ToArray();
        var obstructed = joint.Holes.Where(joint.Obstructed).Select(hole => hole.Name).ToArray();
        return new JointSolution(
            margin >= -Touching && obstructed.Length == 0,
            margin,
            intervals.Max(interval => interval.MarginAtMost),
            move,
            [.. holes.Where(hole => hole.ClearanceLeft <= margin + LimitingWithin).Select(hole => hole.Name)],
            holes,
            obstructed,
            new Certificate(intervals));
    }

    /// <summary>Radial play of one hole under a move, from the joint as it was given.</summary>
    public static double ClearanceLeft(Joint joint, JointHole hole, Move move)
    {
        var (sin, cos) = double.SinCos(move.RotationDegrees * (Math.PI / 180));
        var x = hole.A.X - ((cos * hole.B.X) - (sin * hole.B.Y)) - move.X;
        var y = hole.A.Y - ((sin * hole.B.X) + (cos * hole.B.Y)) - move.Y;
        if ((hole.A.Slot ?? hole.B.Slot) is { } slot)
        {
            var direction = slot.AngleDegrees + (hole.A.Slot is null ? move.RotationDegrees : 0);
            var (sinD, cosD) = double.SinCos(direction * (Math.PI / 180));
            var along = Math.Clamp((x * cosD) + (y * sinD), -slot.Travel / 2, slot.Travel / 2);
            x -= along * cosD;
            y -= along * sinD;
        }

        return joint.Allowance(hole) - Math.Sqrt((x * x) + (y * y));
    }

    internal static Move MoveOf(PlanarPattern pattern, PlanarSolver solver)
    {
        var degrees = Math.IEEERemainder(solver.Angle * (180 / Math.PI), 360);
        var (sin, cos) = double.SinCos(degrees * (Math.PI / 180));
        return new Move(
            pattern.CentreAx - ((cos * pattern.CentreBx) - (sin * pattern.CentreBy)) + solver.ShiftX,
            pattern.CentreAy - ((sin * pattern.CentreBx) + (cos * pattern.CentreBy)) + solver.ShiftY,
            degrees);
    }

    private static ProofInterval Interval(Joint joint, ProvenArc arc)
    {
        var (sin, cos) = arc.Dual.Bound.HeldToB ? double.SinCos(arc.Dual.Angle) : (0, 1);
        var terms = new List<ProofTerm>(3);
        foreach (var cut in (ReadOnlySpan<Cut>)[arc.Dual.First, arc.Dual.Second, arc.Dual.Third])
        {
            if (cut.Weight > 0)
                terms.Add(new ProofTerm(joint.Holes[cut.Hole].Name, cut.Weight, (cos * cut.X) + (sin * cut.Y), (cos * cut.Y) - (sin * cut.X)));
        }

        return new ProofInterval(arc.From, arc.To, arc.Dual.Bound.HeldToB ? "b" : "a", terms, -arc.Lower);
    }
}
