namespace FabLink.Engineering.Geometry;

/// <summary>
/// The width of a set along n is the support function of its difference body K = P − P, so the least width is the distance from
/// the origin to the nearest edge of K. An inner polygon of K is grown only there: take its nearest edge, ask the points for
/// the farthest difference along that edge's normal, insert it; when nothing lies farther out the edge belongs to K and the
/// width is both reached and proven. (The expanding polygon of G. van den Bergen's penetration depth, 2001, here used for a width.)
/// </summary>
internal static class StraightnessSearch
{
    private readonly record struct Corner(PointPair Pair, Vector2D Difference);

    public static StraightnessZone Run(ReadOnlySpan<Vector2D> points, CancellationToken cancellation = default)
    {
        var spread = Spread2.Of(points);
        var centre = spread.Centre;
        var first = Farthest(points, centre, spread.WideDirection, out _);
        var across = first.Difference.Perpendicular.Unit();
        var second = Farthest(points, centre, across, out var middle);
        var width = across.Dot(second.Difference);
        if (width <= 0)
        {
            return new StraightnessZone(
                centre, LeastSquares.Sense(first.Difference.Unit()), 0, 0, [], new WidthProof([], []));
        }

        // K is symmetric: half of the ring, from the first difference round to its opposite, says it all.
        var ring = new List<Corner> { first, second, Opposite(first) };
        var precision = 1e-15 * first.Difference.Length;
        while (true)
        {
            cancellation.ThrowIfCancellationRequested();
            var (at, distance) = Nearest(ring);
            var (a, b) = (ring[at], ring[at + 1]);
            var edge = b.Difference - a.Difference;
            var normal = (-edge.Perpendicular).Unit();
            var next = Farthest(points, centre, normal, out middle);
            var reach = normal.Dot(next.Difference);
            if (reach - distance > precision && next.Pair != a.Pair && next.Pair != b.Pair)
            {
                ring.Insert(at + 1, next);
                continue;
            }
            var share = Math.Clamp(-a.Difference.Dot(edge) / edge.LengthSquared, 0, 1);
            var active = MinimumZone.Active([a.Pair, b.Pair], [1 - share, share]);

            // The upper points lie on the left of the line that runs against the edge.
            var against = -edge.Unit();
            var direction = LeastSquares.Sense(against);
            return new StraightnessZone(
                centre + (middle * normal),
                direction,
                reach,
                Math.Min(distance, reach),
                direction == against ? active : MinimumZone.TurnedRound(active),
                Proof(ring));
        }
    }

    private static Corner Farthest(ReadOnlySpan<Vector2D> points, Vector2D centre, Vector2D n, out double middle)
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
        return new Corner(new PointPair(highest, lowest), points[highest] - points[lowest]);
    }

    private static Corner Opposite(Corner c) => new(new PointPair(c.Pair.Lower, c.Pair.Upper), -c.Difference);

    private static (int At, double Distance) Nearest(List<Corner> ring)
    {
        var (at, least) = (0, double.PositiveInfinity);
        for (var i = 0; i + 1 < ring.Count; i++)
        {
            var (a, b) = (ring[i].Difference, ring[i + 1].Difference);
            var distance = a.Cross(b) / (b - a).Length;
            if (distance < least)
                (at, least) = (i, distance);
        }
        return (at, least);
    }

    private static WidthProof Proof(List<Corner> half)
    {
        var corners = half[..^1].Concat(half[..^1].Select(Opposite)).Select(c => c.Pair).ToArray();
        return new WidthProof(corners, [.. corners.Select((_, i) => (int[])[i, (i + 1) % corners.Length])]);
    }
}
