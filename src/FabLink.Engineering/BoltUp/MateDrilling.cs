namespace FabLink.Engineering.BoltUp;

/// <summary>Holes that are not yet drilled: drill them where the mate has them, the drilled ones deciding the fit.</summary>
internal sealed class MateDrilling(Advisor advisor)
{
    public IEnumerable<Advice> Drill(JointSolution solution)
    {
        var joint = advisor.Joint;
        var drilled = joint.Holes.Where(hole => hole.A.Drilled && hole.B.Drilled).ToArray();
        if (drilled.Length == joint.Holes.Count)
            yield break;
        var move = drilled.Length == 0 ? solution.Move : PlanarBoltUp.Unchecked(joint with { Holes = drilled }).Move;
        foreach (var step in advisor.Steps)
        {
            var changes = joint.Holes.Except(drilled).Select(hole => Mated(hole, move, step)).ToArray();
            if (advisor.Verified(new Advice(AdviceKind.DrillToMate, null, changes, double.NaN)) is not { } advice)
                continue;
            yield return advice;
            yield break;
        }
    }

    private HoleChange Mated(JointHole hole, Move move, double step)
    {
        var (sin, cos) = double.SinCos(move.RotationDegrees * (Math.PI / 180));
        if (!hole.B.Drilled)
        {
            double x = hole.A.X - move.X, y = hole.A.Y - move.Y;
            return new HoleChange(
                hole.Name,
                JointSide.B,
                advisor.OnGrid((cos * x) + (sin * y), step),
                advisor.OnGrid((cos * y) - (sin * x), step),
                hole.B.Diameter,
                hole.B.Slot);
        }

        return new HoleChange(
            hole.Name,
            JointSide.A,
            advisor.OnGrid((cos * hole.B.X) - (sin * hole.B.Y) + move.X, step),
            advisor.OnGrid((sin * hole.B.X) + (cos * hole.B.Y) + move.Y, step),
            hole.A.Diameter,
            hole.A.Slot);
    }
}
