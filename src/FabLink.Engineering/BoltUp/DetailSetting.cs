namespace FabLink.Engineering.BoltUp;

/// <summary>
/// The smallest move of one tacked detail against the rest. Size is the root mean square displacement of the detail's
/// holes. The worst violation is, near the answer, a convex function of the move, known by its value and
/// its slope wherever the joint is solved; the smallest move that satisfies all slopes so far is tried next.
/// </summary>
internal sealed class DetailSetting(Advisor advisor)
{
    private const int MostRounds = 30;

    /// <summary>A move with fewer components is preferred while it is not larger than this times the smallest.</summary>
    private const double WorthSimpler = 1.25;

    private static readonly bool[][] Masks =
    [
        [true, false, false], [false, true, false], [false, false, true],
        [true, true, false], [true, false, true], [false, true, true],
        [true, true, true],
    ];

    /// <summary>One advice per detail that can reach the margin alone, the smallest move first.</summary>
    public IEnumerable<Advice> Moves()
    {
        var moves = new List<(double Size, Advice Advice)>();
        foreach (var side in (JointSide[])[JointSide.B, JointSide.A])
        {
            var details = advisor.Joint.Holes.Select(hole => Advice.Side(hole, side).Detail).ToArray();
            foreach (var detail in details.OfType<string>().Distinct(StringComparer.Ordinal))
            {
                // A detail that carries every hole is the whole part, and the bolts move that already.
                if (details.All(name => name == detail))
                    continue;
                if (Best(new Setting(advisor.Joint, side, detail)) is { } found)
                    moves.Add(found);
            }
        }

        return moves.OrderBy(move => move.Size).Select(move => move.Advice);
    }

    private (double Size, Advice Advice)? Best(Setting setting)
    {
        if (advisor.Joint.Holes.Any(advisor.Joint.Obstructed) || !RestReaches(setting))
            return null;
        if (Smallest(setting, Masks[^1], advisor.Wanted) is not { } free)
            return null;
        var simplest = Masks
            .Where(mask => setting.CanTurn || !mask[2])
            .FirstOrDefault(mask => Smallest(setting, mask, advisor.Wanted) is { } move && setting.Size(move) <= WorthSimpler * setting.Size(free));
        return (simplest is null ? null : Rounded(setting, simplest)) ?? Rounded(setting, Masks[^1]);
    }

    /// <summary>No move of the detail helps when the other holes fail by themselves.</summary>
    private bool RestReaches(Setting setting)
    {
        var rest = advisor.Joint.Holes.Where((_, i) => !setting.Carries(i)).ToArray();
        return PlanarBoltUp.Unchecked(advisor.Joint with { Holes = rest }).UpperBound >= advisor.Wanted;
    }

    private (double Size, Advice Advice)? Rounded(Setting setting, bool[] mask)
    {
        foreach (var step in advisor.Steps)
        {
            var turnStep = setting.TurnStep(step);
            foreach (var extra in (double[])[0, step / 2, step])
            {
                if (Smallest(setting, mask, advisor.Wanted + extra) is not { } move)
                    continue;
                var near = Corners(setting, move, mask, step, turnStep).OrderBy(setting.Size);
                foreach (var candidate in near)
                {
                    if (advisor.Verified(setting.Advice(candidate)) is { } advice)
                        return (setting.Size(candidate), advice);
                }
            }
        }

        return null;
    }

    /// <summary>The grid points around a move: each component down or up.</summary>
    private IEnumerable<double[]> Corners(Setting setting, double[] move, bool[] mask, double step, double turnStep)
    {
        for (var corner = 0; corner < 8; corner++)
        {
            var point = new double[3];
            var wanted = true;
            for (var k = 0; k < 3; k++)
            {
                var up = ((corner >> k) & 1) == 1;
                wanted &= mask[k] || !up;
                if (!mask[k])
                    continue;
                if (k == 2)
                {
                    var degrees = move[2] * (180 / Math.PI);
                    point[2] = setting.CanTurn ? Math.Round((up ? Math.Ceiling(degrees / turnStep) : Math.Floor(degrees / turnStep)) * turnStep, 6) * (Math.PI / 180) : 0;
                }
                else
                {
                    point[k] = advisor.OnGrid((up ? Math.Ceiling(move[k] / step) : Math.Floor(move[k] / step)) * step, step);
                }
            }

            if (wanted && point.Any(component => component != 0))
                yield return point;
        }
    }

    private double[]? Smallest(Setting setting, bool[] mask, double wanted)
    {
        var free = Enumerable.Range(0, 3).Where(k => mask[k] && (k < 2 || setting.CanTurn)).ToArray();
        if (free.Length == 0)
            return null;
        var program = new SmallestPoint(setting.Metric, free);
        var move = new double[3];
        for (var round = 0; round < MostRounds; round++)
        {
            advisor.GoOn();
            var (violation, slope) = setting.Violation(move);
            if (violation <= -wanted + (0.2 * PlanarBoltUp.PromisedGap))
                return move;
            program.Require(slope, -wanted - violation + slope.Zip(move, (s, m) => s * m).Sum());
            if (program.Solve() is not { } next || next.Any(component => !double.IsFinite(component)) || setting.Size(next) > setting.Reach)
                return null;
            move = next;
        }

        return null;
    }
}
