namespace FabLink.Engineering.BoltUp;

/// <summary>
/// Does a joint bolt up whatever is made within its drawings? Sufficient, not necessary: when one move leaves every fastener more than the
/// furthest that its two holes may stand from where they are drawn, with both holes at their smallest, then that move passes whatever is
/// made. For equal holes and position zones it is the floating fastener formula, T = H − F (ASME Y14.5-2018, Appendix B).
/// </summary>
public static class WorstCase
{
    /// <summary>
    /// Margin that is left, mm, radial; null where a hole at its smallest does not pass its own fastener. Measured values count with their
    /// expanded uncertainty.
    /// </summary>
    public static double? Margin(Joint joint)
    {
        joint.Validated();
        var lost = new double[joint.Holes.Count];
        var smallest = new JointHole[joint.Holes.Count];
        for (var i = 0; i < smallest.Length; i++)
        {
            var hole = joint.Holes[i];
            smallest[i] = hole with { A = Smallest(hole.A), B = Smallest(hole.B) };
            lost[i] = Furthest(smallest[i].A) + Furthest(smallest[i].B);
            if (smallest[i].B.Diameter <= 0 || (hole.Kind == FastenerKind.Floating && smallest[i].A.Diameter <= 0) || joint.Obstructed(smallest[i]))
                return null;
        }

        // What positions may cost is taken off the allowance; it may become negative, which a diameter cannot.
        var most = lost.Max();
        var shrunk = joint with
        {
            Holes = [.. smallest.Select((hole, i) => hole with { B = hole.B with { Diameter = hole.B.Diameter + (2 * (most - lost[i])) } })],
        };
        return PlanarBoltUp.Unchecked(shrunk).Margin - most;
    }

    /// <summary>The narrowest is within every wider one of the same length; the shortest within every longer one.</summary>
    private static HoleSide Smallest(HoleSide side) => side.Spread is not { } spread ? side : side with
    {
        Diameter = side.Diameter + spread.DiameterLower,
        Slot = side.Slot is { } slot && spread.Length is { } length ? slot with { Travel = Math.Max(0, slot.Travel + length.Lower - spread.DiameterLower) } : side.Slot,
    };

    private static double Furthest(HoleSide side) => side.Spread is { } spread
        ? spread.Uncertainty + (spread.PositionTolerance / 2) + double.Hypot(spread.X.Largest, spread.Y.Largest)
            // How far a slot that stands askew takes the end of its travel.
            + ((side.Slot?.Travel ?? 0) * Math.Sin(Math.Min(spread.Direction.Largest, 180) / 2 * (Math.PI / 180)))
        : 0;
}
