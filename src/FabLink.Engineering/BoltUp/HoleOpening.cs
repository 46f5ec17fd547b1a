namespace FabLink.Engineering.BoltUp;

/// <summary>Which holes to open, by how much, as larger round holes or as slots.</summary>
internal sealed class HoleOpening(Advisor advisor)
{
    private const int MostHoles = 4;
    private const int MostTries = 1500;

    /// <summary>Measured diameters of one drill differ by less.</summary>
    private const double OneSizeMm = 0.25;

    private int tries;

    private Joint Joint => advisor.Joint;

    /// <summary>
    /// The fewest holes. A proof names the holes it rests on; unless one of these is opened it stands. So the search
    /// branches on the holes of the proof, and the first depth that succeeds is the smallest number.
    /// </summary>
    public IEnumerable<Advice> Fewest()
    {
        var cleared = Cleared(out var forced);
        for (var count = 0; count <= Math.Min(MostHoles, Joint.Holes.Count); count++)
        {
            var sets = new HashSet<string>(StringComparer.Ordinal);
            var found = new List<(double Most, int[] Set, double[] Needs, Move Move)>();
            tries = 0;
            Search(cleared, [], count, sets, found);
            foreach (var (_, set, needs, move) in found.OrderBy(each => each.Most))
            {
                if (Round(set, needs, forced) is not { } round)
                    continue;
                yield return round;
                if (Slotted(cleared, set, needs, move, forced) is { } slotted)
                    yield return slotted;
                yield break;
            }
        }
    }

    /// <summary>All holes of the part alike.</summary>
    public IEnumerable<Advice> All(JointSolution solution)
    {
        var cleared = Cleared(out var forced);
        var lacking = forced.Count == 0 ? advisor.Wanted - solution.Margin : advisor.Wanted - PlanarBoltUp.Unchecked(cleared).Margin;
        if (Joint.Holes.Any(hole => !Opens(hole)))
            yield break;
        foreach (var step in advisor.Steps)
        {
            var by = Math.Max(advisor.UpToGrid(2 * lacking, step), 0);
            var changes = OneDrill(step, [.. Joint.Holes.Select(hole => Opened(hole, by, forced))]).Concat(forced.Where(each => each.Side != advisor.Adjust)).ToArray();
            if (advisor.Verified(new Advice(AdviceKind.OpenAll, null, changes, double.NaN)) is not { } advice)
                continue;
            yield return advice;
            yield break;
        }
    }

    /// <summary>A stud or tapped hole cannot be opened in its own part.</summary>
    private bool Opens(JointHole hole) => advisor.Adjust == JointSide.B || hole.Kind == FastenerKind.Floating;

    /// <summary>The joint with every hole that stops its own fastener opened just past it: that much is needed in any case.</summary>
    private Joint Cleared(out List<HoleChange> forced)
    {
        forced = [];
        foreach (var hole in Joint.Holes)
        {
            foreach (var side in (JointSide[])[JointSide.A, JointSide.B])
            {
                if (side == JointSide.A && hole.Kind == FastenerKind.Stud)
                    continue;
                var own = Advice.Side(hole, side);
                var film = own.Masked ? 0 : side == JointSide.A ? Joint.FilmA : Joint.FilmB;
                var step = advisor.Steps[0];
                if (own.Diameter - (2 * film) <= hole.Fastener)
                    forced.Add(Change(hole, side) with { Diameter = advisor.OnGrid((Math.Floor(((hole.Fastener + (2 * film)) / step) + 1e-6) + 1) * step, step) });
            }
        }

        return new Advice(AdviceKind.OpenHoles, null, forced, double.NaN).Apply(Joint);
    }

    private void Search(Joint cleared, int[] opened, int left, HashSet<string> seen, List<(double Most, int[] Set, double[] Needs, Move Move)> found)
    {
        if (++tries > MostTries || !seen.Add(string.Join(',', opened)))
            return;
        var kept = Enumerable.Range(0, cleared.Holes.Count).Except(opened).ToArray();
        IReadOnlyList<Cut> proof = [];
        var reaches = kept.Length == 0;
        if (!reaches)
        {
            var solver = Solved(cleared with { Holes = [.. kept.Select(i => cleared.Holes[i])] });
            reaches = -solver.Best >= advisor.Wanted - PlanarBoltUp.PromisedGap;
            proof = reaches ? [] : Sensitivity.Of(solver);
        }

        if (reaches)
        {
            if (Needs(cleared, opened) is { } needed)
                found.Add((needed.Needs.Append(0).Max(), opened, needed.Needs, needed.Move));
            return;
        }

        if (left == 0)
            return;
        foreach (var hole in proof.Select(cut => kept[cut.Hole]).Distinct().Where(i => Opens(cleared.Holes[i])))
            Search(cleared, [.. opened.Append(hole).Order()], left - 1, seen, found);
    }

    /// <summary>
    /// The least extra play, alike for the chosen holes, that reaches the margin; then what each of them needs under that
    /// move. The margin is concave in the play and its slope is the weight of the chosen holes: Newton from below.
    /// </summary>
    private (double[] Needs, Move Move)? Needs(Joint cleared, int[] chosen)
    {
        double extra = 0;
        for (var round = 0; round < 40; round++)
        {
            advisor.GoOn();
            var pattern = PlanarPattern.Of(cleared);
            foreach (var i in chosen)
                pattern.Allowance[i] += extra;
            var solver = new PlanarSolver(pattern, cleared.RotationLimitDegrees * (Math.PI / 180));
            solver.Solve();
            var lacking = advisor.Wanted + solver.Best;
            if (lacking <= PlanarBoltUp.PromisedGap)
            {
                var move = PlanarBoltUp.MoveOf(pattern, solver);
                return ([.. chosen.Select(i => Math.Max(0, advisor.Wanted - PlanarBoltUp.ClearanceLeft(cleared, cleared.Holes[i], move)))], move);
            }

            var slope = Sensitivity.Of(solver).Where(cut => chosen.Contains(cut.Hole)).Sum(cut => cut.Weight);
            if (slope <= 1e-6)
                return null;
            extra += lacking / slope;
        }

        return null;
    }

    private Advice? Round(int[] set, double[] needs, List<HoleChange> forced)
    {
        foreach (var step in advisor.Steps)
        {
            var changes = set.Select((i, k) => Opened(Joint.Holes[i], advisor.UpToGrid(2 * needs[k], step), forced)).ToList();
            changes.AddRange(forced.Where(each => !changes.Exists(change => change.Name == each.Name && change.Side == each.Side)));
            if (changes.Count > 0 && advisor.Verified(new Advice(AdviceKind.OpenHoles, null, changes, double.NaN)) is { } advice)
                return advice;
        }

        return null;
    }

    /// <summary>The same holes filed out one way only, towards where the mate stands.</summary>
    private Advice? Slotted(Joint cleared, int[] set, double[] needs, Move move, List<HoleChange> forced)
    {
        if (set.Length == 0 || forced.Count > 0 || set.Any(i => cleared.Holes[i].A.Slot is not null || cleared.Holes[i].B.Slot is not null))
            return null;
        if (advisor.Adjust == JointSide.A && set.Any(i => cleared.Holes[i].Kind == FastenerKind.Stud))
            return null;
        foreach (var (step, degrees) in advisor.Steps.Zip((double[])[15, 5, 1, 0.5]))
        {
            var changes = set.Select((i, k) => Filed(cleared.Holes[i], needs[k], move, step, degrees)).ToArray();
            if (advisor.Verified(new Advice(AdviceKind.SlotHoles, null, changes, double.NaN)) is { } advice)
                return advice;
        }

        return null;
    }

    private HoleChange Filed(JointHole hole, double need, Move move, double step, double degrees)
    {
        var (sin, cos) = double.SinCos(move.RotationDegrees * (Math.PI / 180));
        var x = hole.A.X - ((cos * hole.B.X) - (sin * hole.B.Y)) - move.X;
        var y = hole.A.Y - ((sin * hole.B.X) + (cos * hole.B.Y)) - move.Y;
        // Where the mate stands, seen from this hole in the axes of its own part.
        var (towardX, towardY) = advisor.Adjust == JointSide.A ? (-x, -y) : ((cos * x) + (sin * y), (cos * y) - (sin * x));
        var angle = Math.Round(Math.Atan2(towardY, towardX) * (180 / Math.PI) / degrees) * degrees;
        angle = angle <= -180 ? angle + 360 : angle + 0d;
        var travel = advisor.UpToGrid(need, step);
        var (sinD, cosD) = double.SinCos(angle * (Math.PI / 180));
        var change = Change(hole, advisor.Adjust);
        return change with
        {
            X = change.X + (travel / 2 * cosD),
            Y = change.Y + (travel / 2 * sinD),
            Slot = travel > 0 ? new Slot(travel, angle) : null,
        };
    }

    private HoleChange Opened(JointHole hole, double by, List<HoleChange> forced)
    {
        var own = forced.Find(each => each.Name == hole.Name && each.Side == advisor.Adjust) ?? Change(hole, advisor.Adjust);
        return own with { Diameter = Math.Round(own.Diameter + by, 9) };
    }

    /// <summary>Holes that were one size and differ as measured are opened with one drill, that of the largest; more play never takes margin.</summary>
    private IEnumerable<HoleChange> OneDrill(double step, HoleChange[] changes)
    {
        var sizes = Joint.Holes.Zip(changes).ToLookup(each => (each.First.Fastener, each.Second.Slot is null), each => each.Second.Diameter);
        return Joint.Holes.Zip(changes).Select(each =>
        {
            var same = sizes[(each.First.Fastener, each.Second.Slot is null)];
            return same.Max() - same.Min() is > 1e-9 and <= OneSizeMm ? each.Second with { Diameter = advisor.UpToGrid(same.Max(), step) } : each.Second;
        });
    }

    private static HoleChange Change(JointHole hole, JointSide side)
    {
        var own = Advice.Side(hole, side);
        return new HoleChange(hole.Name, side, own.X, own.Y, own.Diameter, own.Slot);
    }

    private PlanarSolver Solved(Joint joint)
    {
        advisor.GoOn();
        var solver = new PlanarSolver(PlanarPattern.Of(joint), joint.RotationLimitDegrees * (Math.PI / 180));
        solver.Solve();
        return solver;
    }
}
