namespace FabLink.Engineering.Geometry;

/// <summary>The search of <see cref="StraightnessSearch"/> in space: a polyhedron inside the difference body grows where it is
/// nearest to the origin. Each step costs one pass over the points.</summary>
internal static class FlatnessSearch
{
    /// <summary>Ordinary surfaces need a few dozen steps; a set that is equally thick in all directions would need as many as it has corners.</summary>
    private const int MaximumSteps = 2_000;

    public static FlatnessZone Run(ReadOnlySpan<Vector3D> points, Spread3 spread, CancellationToken cancellation = default)
    {
        var centre = spread.Centre;
        var first = Farthest(points, centre, spread.DirectionC, out _);
        var second = Farthest(points, centre, spread.DirectionA.Cross(Difference(points, first)).Unit(), out _);
        var normal = Difference(points, first).Cross(Difference(points, second)).Unit();
        var third = Farthest(points, centre, normal, out var middle);
        var extent = Difference(points, first).Length;
        var width = normal.Dot(Difference(points, third));
        var precision = 1e-14 * extent;
        if (width <= precision)
            return new FlatnessZone(centre + (middle * normal), LeastSquares.Sense(normal), width, 0, [], new WidthProof([], []));

        var body = new DifferenceBody(spread, extent, Difference(points, second).Length, width);
        body.Start(
            (first, Difference(points, first)), (second, Difference(points, second)), (third, Difference(points, third)));

        var best = new FlatnessZone(default, default, double.PositiveInfinity, 0, [], new WidthProof([], []));
        DifferenceBody.Face bestFace = default;
        for (var step = 0; ; step++)
        {
            cancellation.ThrowIfCancellationRequested();
            var face = body.Nearest();
            var pair = Farthest(points, centre, face.Normal, out middle);
            var difference = Difference(points, pair);
            var reach = face.Normal.Dot(difference);
            if (reach <= best.Width + precision)
            {
                best = best with { Point = centre + (middle * face.Normal), Normal = face.Normal, Width = reach };
                bestFace = face;
            }

            var proven = best.Width - face.Distance <= precision || body.Has(face, pair);
            if (!proven && step < MaximumSteps && body.TryAdd(pair, difference))
                continue;
            var (pairs, weights) = proven ? body.Foot(bestFace) : ([], []);
            var active = MinimumZone.Active(pairs, weights);
            var normalOut = LeastSquares.Sense(best.Normal);
            return best with
            {
                Normal = normalOut,
                LowerBound = Math.Min(face.Distance, best.Width),
                Active = normalOut == best.Normal ? active : MinimumZone.TurnedRound(active),
                Proof = body.Proof(),
            };
        }
    }

    private static Vector3D Difference(ReadOnlySpan<Vector3D> points, PointPair pair) => points[pair.Upper] - points[pair.Lower];

    private static PointPair Farthest(ReadOnlySpan<Vector3D> points, Vector3D centre, Vector3D n, out double middle)
    {
        var (low, high) = (double.PositiveInfinity, double.NegativeInfinity);
        var (lowest, highest) = (0, 0);
        for (var i = 0; i < points.Length; i++)
        {
            var along = n.Dot(points[i] - centre);
            if (along < low)
                (low, lowest) = (along, i);
            if (along > high)
                (high, highest) = (along, i);
        }
        middle = (low + high) / 2;
        return new PointPair(highest, lowest);
    }
}
