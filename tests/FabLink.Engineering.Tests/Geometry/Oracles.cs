using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

/// <summary>Slow and obvious: every candidate that geometry allows is tried on every point.</summary>
internal static class Oracles
{
    /// <summary>The narrowest strip touches two points on one side.</summary>
    public static double Straightness(Vector2D[] points)
    {
        var least = double.PositiveInfinity;
        for (var i = 0; i < points.Length; i++)
        {
            for (var j = i + 1; j < points.Length; j++)
            {
                var d = points[j] - points[i];
                if (d.Length == 0)
                    continue;
                var across = points.Select(p => d.Cross(p - points[i]) / d.Length).ToArray();
                least = Math.Min(least, across.Max() - across.Min());
            }
        }
        return least;
    }

    /// <summary>The narrowest slab touches three points on one side, or two on each (K. H. Houle, G. T. Toussaint, IEEE PAMI 10, 1988).</summary>
    public static double Flatness(Vector3D[] points)
    {
        var least = double.PositiveInfinity;
        var edges = new List<Vector3D>();
        for (var i = 0; i < points.Length; i++)
        {
            for (var j = i + 1; j < points.Length; j++)
                edges.Add(points[j] - points[i]);
        }
        for (var i = 0; i < edges.Count; i++)
        {
            for (var j = i + 1; j < edges.Count; j++)
            {
                var n = edges[i].Cross(edges[j]);
                if (n.Length <= 1e-12 * edges[i].Length * edges[j].Length)
                    continue;
                n *= 1 / n.Length;
                var along = points.Select(p => n.Dot(p)).ToArray();
                least = Math.Min(least, along.Max() - along.Min());
            }
        }
        return least;
    }

    /// <summary>The narrowest ring touches three points on one circle or two on each (Le Van Ban, D. T. Lee, Proc. 7th SoCG, 1991);
    /// its centre is where two perpendicular bisectors meet.</summary>
    public static double Circularity(Vector2D[] points)
    {
        var bisectors = new List<(Vector2D At, Vector2D Normal)>();
        for (var i = 0; i < points.Length; i++)
        {
            for (var j = i + 1; j < points.Length; j++)
                bisectors.Add((0.5 * (points[i] + points[j]), points[j] - points[i]));
        }
        var least = double.PositiveInfinity;
        for (var i = 0; i < bisectors.Count; i++)
        {
            for (var j = i + 1; j < bisectors.Count; j++)
            {
                var (a, b) = (bisectors[i], bisectors[j]);
                var determinant = a.Normal.Cross(b.Normal);
                if (Math.Abs(determinant) <= 1e-12 * a.Normal.Length * b.Normal.Length)
                    continue;
                var (p, q) = (a.Normal.Dot(a.At), b.Normal.Dot(b.At));
                var c = new Vector2D((p * b.Normal.Y) - (q * a.Normal.Y), (q * a.Normal.X) - (p * b.Normal.X)) * (1 / determinant);
                var far = points.Select(x => (x - c).Length).ToArray();
                least = Math.Min(least, far.Max() - far.Min());
            }
        }
        return least;
    }
}
