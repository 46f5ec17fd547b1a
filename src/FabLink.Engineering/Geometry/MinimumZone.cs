namespace FabLink.Engineering.Geometry;

/// <summary>Form errors as the standards define them, each with a proof that nothing smaller exists.</summary>
public static class MinimumZone
{
    /// <exception cref="InputError">Fewer than two different points, or not finite.</exception>
    public static StraightnessZone Straightness(ReadOnlySpan<Vector2D> points, CancellationToken cancellation = default)
    {
        PointChecks.Require(points, 2, "line");
        return StraightnessSearch.Run(points, cancellation);
    }

    /// <exception cref="InputError">Fewer than three different points, all of them on one line, or not finite.</exception>
    public static FlatnessZone Flatness(ReadOnlySpan<Vector3D> points, CancellationToken cancellation = default)
    {
        PointChecks.Require(points, 3, "plane");
        var spread = Spread3.Of(points);
        if (spread.B <= PointChecks.RankTolerance * spread.C)
            throw PointChecks.Degenerate("plane", "all points lie on one line");
        return FlatnessSearch.Run(points, spread, cancellation);
    }

    /// <exception cref="InputError">Fewer than three different points, not finite, or as well between two parallel lines as
    /// between two circles.</exception>
    public static CircularityZone Circularity(ReadOnlySpan<Vector2D> points, CancellationToken cancellation = default)
    {
        PointChecks.Require(points, 3, "circle");
        var spread = Spread2.Of(points);
        if (spread.Narrow <= PointChecks.RankTolerance * spread.Wide)
            throw PointChecks.Degenerate("circle", "all points lie on one line");
        return new CircularitySearch(points, spread).Run(cancellation);
    }

    /// <summary>Weights of the points in the pairs of one face, from the weights of its corners; points without weight are left out.</summary>
    internal static IReadOnlyList<ActivePoint> Active(ReadOnlySpan<PointPair> pairs, ReadOnlySpan<double> weights)
    {
        var sums = new Dictionary<(int Index, ZoneSide Side), double>();
        for (var k = 0; k < pairs.Length; k++)
        {
            var weight = Math.Max(0, weights[k]);
            foreach (var key in ((int, ZoneSide)[])[(pairs[k].Upper, ZoneSide.Upper), (pairs[k].Lower, ZoneSide.Lower)])
                sums[key] = sums.GetValueOrDefault(key) + weight;
        }
        return
        [
            .. sums.Where(s => s.Value > 0)
                .OrderByDescending(s => s.Key.Side).ThenBy(s => s.Key.Index)
                .Select(s => new ActivePoint(s.Key.Index, s.Key.Side, s.Value)),
        ];
    }

    /// <summary>The same points when the direction is turned round: what was above is below.</summary>
    internal static IReadOnlyList<ActivePoint> TurnedRound(IReadOnlyList<ActivePoint> active) =>
    [
        .. active.Select(a => a with { Side = a.Side == ZoneSide.Upper ? ZoneSide.Lower : ZoneSide.Upper })
            .OrderByDescending(a => a.Side).ThenBy(a => a.Index),
    ];
}
