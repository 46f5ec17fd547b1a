using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Tests.Geometry;

/// <summary>Checks the proofs of minimum zones from the points alone; shares no code with the search that made them.
/// Each returns the bound that the proof really gives.</summary>
internal static class ProofCheck
{
    public static double Width(Vector2D[] points, WidthProof proof)
    {
        var corners = proof.Pairs.Select(p => points[p.Upper] - points[p.Lower]).ToArray();
        Assert.Equal(proof.Faces.Count, corners.Length);
        double turned = 0, least = double.PositiveInfinity;
        for (var k = 0; k < proof.Faces.Count; k++)
        {
            var (a, b) = (corners[proof.Faces[k][0]], corners[proof.Faces[k][1]]);
            Assert.Equal(proof.Faces[k][1], proof.Faces[(k + 1) % proof.Faces.Count][0]);
            var cross = (a.X * b.Y) - (a.Y * b.X);
            Assert.True(cross > 0);
            turned += Math.Atan2(cross, (a.X * b.X) + (a.Y * b.Y));
            least = Math.Min(least, cross / Math.Sqrt(Math.Pow(b.X - a.X, 2) + Math.Pow(b.Y - a.Y, 2)));
        }
        Assert.Equal(2 * Math.PI, turned, 9);
        return least;
    }

    /// <summary>Closed (every edge is used once each way) and once around the origin (solid angles, A. van Oosterom,
    /// J. Strackee, IEEE Transactions on Biomedical Engineering 30, 1983, add up to 4π).</summary>
    public static double Width(Vector3D[] points, WidthProof proof)
    {
        var corners = proof.Pairs.Select(p => points[p.Upper] - points[p.Lower]).ToArray();
        var edges = new HashSet<(int, int)>();
        double solid = 0, least = double.PositiveInfinity;
        foreach (var face in proof.Faces)
        {
            for (var k = 0; k < 3; k++)
                Assert.True(edges.Add((face[k], face[(k + 1) % 3])));
            var (a, b, c) = (corners[face[0]], corners[face[1]], corners[face[2]]);
            var volume = a.Dot(b.Cross(c));
            Assert.True(volume > 0);
            var (la, lb, lc) = (a.Length, b.Length, c.Length);
            solid += 2 * Math.Atan2(volume, (la * lb * lc) + (a.Dot(b) * lc) + (b.Dot(c) * la) + (c.Dot(a) * lb));
            least = Math.Min(least, volume / (b - a).Cross(c - a).Length);
        }
        Assert.All(edges, e => Assert.Contains((e.Item2, e.Item1), edges));
        Assert.Equal(4 * Math.PI, solid, 6);
        return least;
    }

    public static double Circularity(Vector2D[] points, CircularityProof proof)
    {
        var local = points.Select(p => p - proof.Origin).ToArray();
        var farthest = local.Max(p => p.Length);
        Tiles(proof);
        var bound = proof.StripWidth - (farthest * farthest / (2 * (proof.FarRadius - farthest)));
        Assert.True(StripAtLeast(local, proof.StripWidth));
        foreach (var cell in proof.Cells)
            bound = Math.Min(bound, cell.Disc is { } disc ? InDisc(local, cell, proof.Discs[disc]) : ByPair(local, cell));
        return bound;
    }

    private static double ByPair(Vector2D[] points, ProvenCell cell)
    {
        var diagonal = cell.HalfSide * Math.Sqrt(2);
        var (o, i) = (points[cell.Outer], points[cell.Inner]);
        var (far, near) = ((o - cell.Middle).Length, (i - cell.Middle).Length);
        var sum = far + near - (2 * diagonal);
        var slope = sum > 0 ? Math.Min(2, 2 * (o - i).Length / sum) : 2;
        return far - near - (diagonal * slope);
    }

    private static double InDisc(Vector2D[] points, ProvenCell cell, ProvenDisc disc)
    {
        Assert.True((cell.Middle - disc.Middle).Length + (cell.HalfSide * Math.Sqrt(2)) <= disc.Radius * (1 + 1e-12));
        var outer = disc.Outer.Select(k => points[k] - disc.Middle).ToArray();
        var inner = disc.Inner.Select(k => points[k] - disc.Middle).ToArray();
        var slopes = outer.SelectMany(o => inner.Select(i => (i * (1 / i.Length)) - (o * (1 / o.Length)))).ToArray();

        // Over a fan of directions and all that are critical (at right angles to a difference of two slopes).
        var steep = double.PositiveInfinity;
        void Look(Vector2D v)
        {
            if (v.Length > 0)
                steep = Math.Min(steep, slopes.Max(s => s.Dot(v * (1 / v.Length))));
        }
        for (var k = 0; k < 360; k++)
            Look(new Vector2D(Math.Cos(k * Math.PI / 180), Math.Sin(k * Math.PI / 180)));
        foreach (var s in slopes)
        {
            foreach (var t in slopes)
                Look(new Vector2D(t.Y - s.Y, s.X - t.X));
        }
        var r = inner.Min(i => i.Length);
        Assert.True(steep >= disc.Steepness * (1 - 1e-6));
        Assert.True(disc.Radius <= (2 * steep * r / (1 + (2 * steep))) * (1 + 1e-6));
        return outer.Min(o => o.Length) - inner.Max(i => i.Length);
    }

    /// <summary>The squares are disjoint, lie within the large one, and their areas add up to its area.</summary>
    private static void Tiles(CircularityProof proof)
    {
        var rounding = 1e-12 * proof.FarRadius;
        var area = proof.Cells.Sum(c => 4 * c.HalfSide * c.HalfSide);
        Assert.Equal(1, area / (4 * proof.FarRadius * proof.FarRadius), 9);
        Assert.All(proof.Cells, c => Assert.True(
            Math.Max(Math.Abs(c.Middle.X), Math.Abs(c.Middle.Y)) + c.HalfSide <= proof.FarRadius * (1 + 1e-12)));
        var sorted = proof.Cells.OrderBy(c => c.Middle.X - c.HalfSide).ToList();
        for (var i = 0; i < sorted.Count; i++)
        {
            var a = sorted[i];
            for (var j = i + 1; j < sorted.Count && sorted[j].Middle.X - sorted[j].HalfSide < a.Middle.X + a.HalfSide - rounding; j++)
            {
                var b = sorted[j];
                Assert.True(Math.Abs(a.Middle.Y - b.Middle.Y) >= a.HalfSide + b.HalfSide - rounding);
            }
        }
    }

    private static bool StripAtLeast(Vector2D[] points, double width)
    {
        // The narrowest strip has two points on one side: all pairs are tried.
        var least = Oracles.Straightness(points);
        return least >= width * (1 - 1e-9);
    }
}
