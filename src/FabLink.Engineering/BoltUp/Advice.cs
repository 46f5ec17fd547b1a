namespace FabLink.Engineering.BoltUp;

/// <summary>How one detail is re-set: turned about one of its holes, then shifted, in the axes of its own part.</summary>
/// <param name="About">The hole that is turned about; the shift is the shift of this hole.</param>
/// <param name="TurnDegrees">Counter-clockwise.</param>
public sealed record DetailMove(string Detail, JointSide Side, string About, double ShiftX, double ShiftY, double TurnDegrees);

/// <summary>What one hole of one part becomes.</summary>
public sealed record HoleChange(string Name, JointSide Side, double X, double Y, double Diameter, Slot? Slot);

/// <summary>The kinds of advice, in the order a shop would want them.</summary>
public enum AdviceKind
{
    MoveDetail,
    OpenHoles,
    SlotHoles,
    OpenAll,
    DrillToMate,
}

/// <summary>One way out, its numbers as a shop would be told them; the margin is that of the check with it applied. Lengths in mm.</summary>
public sealed record Advice(AdviceKind Kind, DetailMove? Move, IReadOnlyList<HoleChange> Holes, double Margin)
{
    /// <summary>The joint with this advice carried out, from nothing but the numbers of the advice.</summary>
    public Joint Apply(Joint joint)
    {
        var holes = joint.Holes.ToArray();
        if (Move is { } move)
        {
            var pivot = Side(holes.First(hole => hole.Name == move.About), move.Side);
            for (var i = 0; i < holes.Length; i++)
            {
                var side = Side(holes[i], move.Side);
                if (side.Detail == move.Detail)
                    holes[i] = With(holes[i], move.Side, Moved(side, pivot.X, pivot.Y, move));
            }
        }

        foreach (var change in Holes)
        {
            var i = Array.FindIndex(holes, hole => hole.Name == change.Name);
            holes[i] = With(holes[i], change.Side, Side(holes[i], change.Side) with
            {
                X = change.X,
                Y = change.Y,
                Diameter = change.Diameter,
                Slot = change.Slot,
            });
        }

        return joint with { Holes = holes };
    }

    internal static HoleSide Side(JointHole hole, JointSide side) => side == JointSide.A ? hole.A : hole.B;

    internal static JointHole With(JointHole hole, JointSide side, HoleSide value) =>
        side == JointSide.A ? hole with { A = value } : hole with { B = value };

    private static HoleSide Moved(HoleSide side, double pivotX, double pivotY, DetailMove move)
    {
        var (sin, cos) = double.SinCos(move.TurnDegrees * (Math.PI / 180));
        double x = side.X - pivotX, y = side.Y - pivotY;
        return side with
        {
            X = pivotX + (cos * x) - (sin * y) + move.ShiftX,
            Y = pivotY + (sin * x) + (cos * y) + move.ShiftY,
            Slot = side.Slot is { } slot ? slot with { AngleDegrees = slot.AngleDegrees + move.TurnDegrees } : null,
        };
    }
}
