namespace FabLink.Engineering.BoltUp;

/// <summary>
/// What to change when a joint fails or is tight. Every advice is rounded to what a shop can set, applied and checked
/// again; what does not reach the wanted margin is not given. Edge distance and strength are not judged.
/// </summary>
/// <param name="joint">A validated joint.</param>
/// <param name="wanted">Margin to reach, mm.</param>
/// <param name="adjust">The part whose holes may be opened.</param>
/// <param name="unit">Millimetres per unit of the person who asked: advice is rounded in his unit.</param>
/// <param name="cancellation">Asked before every solve.</param>
public sealed class Advisor(Joint joint, double wanted, JointSide adjust, double unit, CancellationToken cancellation = default)
{
    /// <summary>Steps that a shop can set, coarse to fine, mm and inch.</summary>
    private static readonly double[] MetricSteps = [0.1, 0.05, 0.02, 0.01];
    private static readonly double[] InchSteps = [0.005, 0.002, 0.001, 0.0005];

    internal Joint Joint => joint;

    internal double Wanted => wanted;

    internal JointSide Adjust => adjust;

    /// <summary>The steps in mm.</summary>
    internal IReadOnlyList<double> Steps { get; } = [.. (unit == 1 ? MetricSteps : InchSteps).Select(step => step * unit)];

    /// <summary>All advice that holds, in the order a shop would want it; empty when the solution already reaches the margin.</summary>
    public IReadOnlyList<Advice> For(JointSolution solution)
    {
        if (Reaches(solution))
            return [];
        var opening = new HoleOpening(this);
        return
        [
            .. new DetailSetting(this).Moves(),
            .. opening.Fewest(),
            .. opening.All(solution),
            .. new MateDrilling(this).Drill(solution),
        ];
    }

    /// <summary>Ends a search that takes too long.</summary>
    internal void GoOn() => cancellation.ThrowIfCancellationRequested();

    internal bool Reaches(JointSolution solution) =>
        solution.BoltsUp && solution.Margin >= wanted - PlanarBoltUp.PromisedGap;

    /// <summary>Runs the check again with the advice applied; null when it does not reach the margin.</summary>
    internal Advice? Verified(Advice advice)
    {
        GoOn();
        var solution = PlanarBoltUp.Solve(advice.Apply(joint), cancellation);
        return Reaches(solution) ? advice with { Margin = solution.Margin } : null;
    }

    /// <summary>A length on the grid of the unit asked, without the noise of the division.</summary>
    internal double OnGrid(double value, double step) => Math.Round(Math.Round(value / step) * (step / unit), 6) * unit;

    internal double UpToGrid(double value, double step) => OnGrid(Math.Ceiling((value - 1e-6) / step) * step, step);
}
