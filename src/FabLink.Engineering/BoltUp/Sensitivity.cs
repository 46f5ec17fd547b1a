namespace FabLink.Engineering.BoltUp;

/// <summary>
/// What the margin hangs on at the optimum: weights and directions (part a's axes) of at most six planes, mixed from a
/// falling and a rising proof so that a small turn changes nothing. A shift of one hole by s changes the worst
/// violation by weight·(direction·s), more play in it lowers the violation by weight.
/// </summary>
internal static class Sensitivity
{
    private const double Tight = 2e-6;
    private const double Weightless = 1e-7;

    public static IReadOnlyList<Cut> Of(PlanarSolver solver)
    {
        Dual? falling = null, rising = null;
        foreach (var dual in solver.Duals)
        {
            if (dual.Bound.Value(solver.Angle) < solver.Best - Tight)
                continue;
            var slope = dual.Bound.Slope(solver.Angle);
            if (slope <= 0 && (falling is null || slope > falling.Value.Bound.Slope(solver.Angle)))
                falling = dual;
            if (slope >= 0 && (rising is null || slope < rising.Value.Bound.Slope(solver.Angle)))
                rising = dual;
        }

        var cuts = new List<Cut>(6);
        var (down, up) = (falling?.Bound.Slope(solver.Angle) ?? 0, rising?.Bound.Slope(solver.Angle) ?? 0);
        var share = falling is null ? 0 : rising is null ? 1 : up - down <= 0 ? 1 : up / (up - down);
        Add(cuts, falling, share);
        Add(cuts, rising, 1 - share);
        return cuts;
    }

    private static void Add(List<Cut> cuts, Dual? dual, double share)
    {
        if (dual is not { } proof)
            return;
        foreach (var cut in (ReadOnlySpan<Cut>)[proof.First, proof.Second, proof.Third])
        {
            if (cut.Weight * share > Weightless)
                cuts.Add(cut with { Weight = cut.Weight * share });
        }
    }
}
