namespace FabLink.Engineering.BoltUp;

/// <summary>One detail of one part and what its move (shift x, shift y, mm; turn, radian; about its first hole) does to the joint.</summary>
internal sealed class Setting
{
    private readonly Joint joint;
    private readonly JointSide side;
    private readonly string detail;
    private readonly bool[] carries;
    private readonly (double X, double Y)[] arms;
    private readonly string about;

    public Setting(Joint joint, JointSide side, string detail)
    {
        this.joint = joint;
        this.side = side;
        this.detail = detail;
        carries = [.. joint.Holes.Select(hole => BoltUp.Advice.Side(hole, side).Detail == detail)];
        var first = Array.IndexOf(carries, true);
        about = joint.Holes[first].Name;
        var pivot = BoltUp.Advice.Side(joint.Holes[first], side);
        arms = [.. joint.Holes.Select(hole => BoltUp.Advice.Side(hole, side)).Select(hole => (hole.X - pivot.X, hole.Y - pivot.Y))];
        var longest = arms.Where((_, i) => carries[i]).Max(arm => Math.Sqrt((arm.X * arm.X) + (arm.Y * arm.Y)));
        CanTurn = longest > 0;
        LongestArm = longest;
        double count = carries.Count(each => each), x = 0, y = 0, square = 0;
        for (var i = 0; i < arms.Length; i++)
        {
            if (!carries[i])
                continue;
            x += arms[i].X / count;
            y += arms[i].Y / count;
            square += ((arms[i].X * arms[i].X) + (arms[i].Y * arms[i].Y)) / count;
        }

        Metric = new[,] { { 1, 0, -y }, { 0, 1, x }, { -y, x, square } };
        Reach = joint.Holes.Max(hole => Math.Abs(hole.A.X - joint.Holes[0].A.X) + Math.Abs(hole.A.Y - joint.Holes[0].A.Y)) + longest + 50;
    }

    /// <summary>False when the detail has one place only: a turn about it changes nothing.</summary>
    public bool CanTurn { get; }

    public double LongestArm { get; }

    /// <summary>Mean square displacement of the detail's holes as a quadratic form of the move.</summary>
    public double[,] Metric { get; }

    /// <summary>Moves larger than this are no corrections.</summary>
    public double Reach { get; }

    public bool Carries(int hole) => carries[hole];

    public double Size(double[] move)
    {
        double sum = 0;
        for (var i = 0; i < 3; i++)
        {
            for (var j = 0; j < 3; j++)
                sum += move[i] * Metric[i, j] * move[j];
        }

        return Math.Sqrt(Math.Max(sum, 0));
    }

    /// <summary>The coarsest turn, degrees, that moves the far hole by no more than a step.</summary>
    public double TurnStep(double step)
    {
        foreach (var degrees in (double[])[0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002])
        {
            if (degrees * (Math.PI / 180) * LongestArm <= step)
                return degrees;
        }

        return 0.001;
    }

    public Advice Advice(double[] move) => new(
        AdviceKind.MoveDetail,
        new DetailMove(detail, side, about, move[0], move[1], Math.Round(move[2] * (180 / Math.PI), 6)),
        [],
        double.NaN);

    /// <summary>Worst violation with the detail moved, and its slope by shift x, shift y and turn.</summary>
    public (double Violation, double[] Slope) Violation(double[] move)
    {
        var moved = Advice(move) with { Move = new DetailMove(detail, side, about, move[0], move[1], move[2] * (180 / Math.PI)) };
        var solver = new PlanarSolver(PlanarPattern.Of(moved.Apply(joint)), joint.RotationLimitDegrees * (Math.PI / 180));
        solver.Solve();
        var slope = new double[3];
        var (sinA, cosA) = double.SinCos(solver.Angle);
        var (sinM, cosM) = double.SinCos(move[2]);
        foreach (var cut in Sensitivity.Of(solver))
        {
            if (!carries[cut.Hole])
                continue;
            // The direction as it acts on the moved part: reversed and turned back when that part is b.
            var (px, py) = side == JointSide.A
                ? (cut.X, cut.Y)
                : (-((cosA * cut.X) + (sinA * cut.Y)), -((cosA * cut.Y) - (sinA * cut.X)));
            var (armX, armY) = arms[cut.Hole];
            slope[0] += cut.Weight * px;
            slope[1] += cut.Weight * py;
            slope[2] += cut.Weight * ((px * -((sinM * armX) + (cosM * armY))) + (py * ((cosM * armX) - (sinM * armY))));
        }

        return (solver.Best, slope);
    }
}
