namespace FabLink.Engineering.Geometry;

/// <summary>
/// W(c) = max dᵢ(c) − min dⱼ(c) has several local minima. <see cref="CircularityStep"/> finds one exactly; the rest of the plane
/// is then ruled out: a disc around each local minimum by its own active points, everything else by squares that are halved until
/// one pair of points proves them, and the far plane by the narrowest strip that holds the points.
/// Works on points about their centroid in units of their size.
/// </summary>
internal sealed class CircularitySearch
{
    /// <summary>Gap that is accepted, in units of the size of the set.</summary>
    private const double Precision = 1e-11;

    private const int MostDiscs = 64;

    /// <summary>A ring must be narrower than the narrowest strip by this part, or the points show a line as well as a circle.</summary>
    private const double LineMargin = 1e-4;

    private readonly Vector2D[] points;
    private readonly Vector2D origin;
    private readonly double size;
    private readonly double farthest;
    private readonly List<(CircularityStep.Optimum Optimum, ProvenDisc Disc)> local = [];

    public CircularitySearch(ReadOnlySpan<Vector2D> source, Spread2 spread)
    {
        (origin, size) = (spread.Centre, spread.Wide);
        points = new Vector2D[source.Length];
        for (var i = 0; i < points.Length; i++)
        {
            points[i] = (source[i] - origin) * (1 / size);
            farthest = Math.Max(farthest, points[i].Length);
        }
    }

    public CircularityZone Run(CancellationToken cancellation = default)
    {
        var strip = MinimumZone.Straightness(points, cancellation).LowerBound;
        var start = CircleModel.Start(points, default, 1);
        Settle(IsUsable(start.Offset) ? start.Offset : default);
        if (Best.Width <= Precision)
            return Answer(0, CircularityProof.None(origin));

        // From centre at distance R in direction u, dᵢ lies between R − u·pᵢ and that plus ρ²/(2(R − ρ)), ρ the largest |pᵢ|,
        // so there W ≥ width along u − ρ²/(2(R − ρ)): beyond R no ring beats the target.
        var most = strip * (1 - LineMargin);
        double Target() => Math.Min(Best.Width, most);
        var far = farthest + (farthest * farthest / (2 * (strip - Target())));
        var limit = Math.Clamp(200_000_000 / points.Length, 2_000, 200_000);
        var queue = new PriorityQueue<ProvenCell, double>();
        var proven = new List<ProvenCell>();
        Enqueue(queue, default, far);
        for (var evaluated = 1; queue.Count > 0; evaluated += 4)
        {
            cancellation.ThrowIfCancellationRequested();
            if (queue.Peek().Bound >= Target() - Precision || evaluated > limit)
                break;
            var cell = queue.Dequeue();
            if (Holding(cell) is { } disc)
            {
                proven.Add(cell with { Disc = disc, Bound = local[disc].Disc.Bound });
                continue;
            }
            var diagonal = cell.HalfSide * Math.Sqrt(2);
            var width = Distance(cell.Outer, cell.Middle) - Distance(cell.Inner, cell.Middle);
            if (width < Best.Width + (0.2 * diagonal) && local.Count < MostDiscs)
                Settle(cell.Middle);
            var half = cell.HalfSide / 2;
            foreach (var (x, y) in ((int, int)[])[(-1, -1), (1, -1), (-1, 1), (1, 1)])
                Enqueue(queue, cell.Middle + new Vector2D(x * half, y * half), half);
        }
        if (Best.Width > most)
        {
            throw PointChecks.Degenerate(
                "circle", "the points lie as well between two parallel lines as between two concentric circles");
        }
        proven.AddRange(queue.UnorderedItems.Select(item => item.Element));
        var lower = Math.Clamp(proven.Min(c => c.Bound), 0, Best.Width);

        return Answer(lower, new CircularityProof(
            origin,
            size * far,
            size * strip,
            [.. proven.Select(c => c with { Middle = size * c.Middle, HalfSide = size * c.HalfSide, Bound = size * c.Bound })],
            [.. local.Select(l => Unscaled(l.Disc))]));
    }

    private CircularityStep.Optimum Best => local.MinBy(l => l.Optimum.Width).Optimum;

    private CircularityZone Answer(double lower, CircularityProof proof)
    {
        var best = Best;
        return new CircularityZone(
            origin + (size * best.Centre),
            size * best.Inner,
            size * best.Outer,
            size * best.Width,
            size * lower,
            MinimumZone.Active(best.Pairs, best.Weights),
            proof);
    }

    private ProvenDisc Unscaled(ProvenDisc disc) => disc with
    {
        Middle = size * disc.Middle,
        Radius = size * disc.Radius,
        Slack = size * disc.Slack,
        Bound = size * disc.Bound,
    };

    private bool IsUsable(Vector2D c) => c.IsFinite && c.Length < 1e6 * farthest;

    private double Distance(int index, Vector2D c) => (points[index] - c).Length;

    private void Enqueue(PriorityQueue<ProvenCell, double> queue, Vector2D middle, double half)
    {
        var reach = CircularityStep.Reach(points, middle);
        var diagonal = half * Math.Sqrt(2);

        // |uₒ − uᵢ| ≤ 2|pₒ − pᵢ|/(dₒ + dᵢ) (C. F. Dunkl, K. S. Williams, American Mathematical Monthly 71, 1964).
        var near = reach.Outer + reach.Inner - (2 * diagonal);
        var slope = near > 0
            ? Math.Min(2, 2 * (points[reach.OuterIndex] - points[reach.InnerIndex]).Length / near)
            : 2;
        var bound = reach.Outer - reach.Inner - (diagonal * slope);
        queue.Enqueue(new ProvenCell(middle, half, reach.OuterIndex, reach.InnerIndex, null, bound), bound);
    }

    private int? Holding(ProvenCell cell)
    {
        var diagonal = cell.HalfSide * Math.Sqrt(2);
        var at = local.FindIndex(l => (cell.Middle - l.Disc.Middle).Length + diagonal <= l.Disc.Radius);
        return at < 0 ? null : at;
    }

    private void Settle(Vector2D start)
    {
        if (local.Exists(l => (start - l.Disc.Middle).Length <= l.Disc.Radius))
            return;
        var optimum = CircularityStep.Descend(points, start);
        if (!local.Exists(l => (optimum.Centre - l.Optimum.Centre).Length <= 1e-9))
            local.Add((optimum, CircularityStep.Disc(points, optimum)));
    }
}
