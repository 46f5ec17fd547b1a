namespace FabLink.Engineering.Geometry;

/// <summary>
/// A triangulated surface around the origin whose corners are differences of points. What is inside or outside is decided in
/// coordinates stretched so that the body is about as thick as it is wide; distances are those of the true body. Even where
/// rounding leaves the surface slightly dented, every triangle lies within the difference body, so the distance of the nearest
/// triangle's plane stays a valid lower bound of the width.
/// </summary>
internal sealed class DifferenceBody(Spread3 spread, double length, double breadth, double thickness)
{
    private const double Coplanar = 1e-11;

    // Right-handed, so that a turn means the same in stretched and in true space.
    private readonly Vector3D thin = spread.DirectionC.Cross(spread.DirectionB);
    private readonly List<Corner> corners = [];
    private readonly List<Face> faces = [];

    private readonly record struct Corner(PointPair Pair, Vector3D Difference, Vector3D Stretched);

    /// <summary>Counter-clockwise seen from outside; <see cref="Normal"/> and <see cref="Distance"/> in true space.</summary>
    internal readonly record struct Face(int A, int B, int C, Vector3D StretchedNormal, double StretchedOffset, Vector3D Normal, double Distance);

    public void Start((PointPair, Vector3D) x, (PointPair, Vector3D) y, (PointPair, Vector3D) z)
    {
        foreach (var (pair, difference) in ((PointPair, Vector3D)[])[x, y, z])
        {
            AddCorner(pair, difference);
            AddCorner(Opposite(pair), -difference);
        }
        var turn = corners[0].Stretched.Cross(corners[2].Stretched).Dot(corners[4].Stretched) > 0 ? 0 : 1;
        for (var octant = 0; octant < 8; octant++)
        {
            var (a, b, c) = (octant & 1, 2 + ((octant >> 1) & 1), 4 + ((octant >> 2) & 1));
            var outward = int.PopCount(octant) % 2 == turn;
            faces.Add(MakeFace(a, outward ? b : c, outward ? c : b));
        }
    }

    public Face Nearest()
    {
        var nearest = faces[0];
        foreach (var face in faces)
            nearest = face.Distance < nearest.Distance ? face : nearest;
        return nearest;
    }

    public bool Has(Face face, PointPair pair) =>
        corners[face.A].Pair == pair || corners[face.B].Pair == pair || corners[face.C].Pair == pair;

    /// <summary>Takes in a difference and its opposite; false, with nothing changed, where rounding forbids it.</summary>
    public bool TryAdd(PointPair pair, Vector3D difference)
    {
        Face[] before = [.. faces];
        AddCorner(pair, difference);
        AddCorner(Opposite(pair), -difference);
        if (Cover(corners.Count - 2) && Cover(corners.Count - 1))
            return true;
        faces.Clear();
        faces.AddRange(before);
        corners.RemoveRange(corners.Count - 2, 2);
        return false;
    }

    /// <summary>The foot of the perpendicular from the origin onto the plane of the face as a mean of corners in that plane. A flat
    /// side with more than three corners is made of several triangles; the one that holds the foot is taken.</summary>
    public (PointPair[] Pairs, double[] Weights) Foot(Face face)
    {
        bool InPlane(int corner) =>
            face.StretchedNormal.Dot(corners[corner].Stretched) - face.StretchedOffset > -100 * Coplanar;
        return faces
            .Where(f => InPlane(f.A) && InPlane(f.B) && InPlane(f.C))
            .Select(f => FootWithin(f, face.Distance * face.Normal, face.Normal))
            .MaxBy(foot => foot.Weights.Min());
    }

    private (PointPair[] Pairs, double[] Weights) FootWithin(Face face, Vector3D foot, Vector3D normal)
    {
        var (a, b, c) = (corners[face.A], corners[face.B], corners[face.C]);
        var area = (b.Difference - a.Difference).Cross(c.Difference - a.Difference).Dot(normal);
        double Weight(Corner p, Corner q) => (p.Difference - foot).Cross(q.Difference - foot).Dot(normal) / area;
        return ([a.Pair, b.Pair, c.Pair], [Weight(b, c), Weight(c, a), Weight(a, b)]);
    }

    public WidthProof Proof()
    {
        var used = faces.SelectMany(f => (int[])[f.A, f.B, f.C]).Distinct().Order().ToList();
        var place = used.Select((corner, i) => (corner, i)).ToDictionary(x => x.corner, x => x.i);
        return new WidthProof(
            [.. used.Select(i => corners[i].Pair)],
            [.. faces.Select(f => (int[])[place[f.A], place[f.B], place[f.C]])]);
    }

    private static PointPair Opposite(PointPair pair) => new(pair.Lower, pair.Upper);

    private void AddCorner(PointPair pair, Vector3D d) => corners.Add(new Corner(
        pair,
        d,
        new Vector3D(spread.DirectionC.Dot(d) / length, spread.DirectionB.Dot(d) / breadth, thin.Dot(d) / thickness)));

    private Face MakeFace(int a, int b, int c)
    {
        var (p, q, r) = (corners[a].Stretched, corners[b].Stretched, corners[c].Stretched);
        var m = (q - p).Cross(r - p).Unit();
        var offset = m.Dot(p);
        var normal = (m.X / length * spread.DirectionC) + (m.Y / breadth * spread.DirectionB) + (m.Z / thickness * thin);
        var size = normal.Length;
        return new Face(a, b, c, m, offset, normal * (1 / size), offset / size);
    }

    /// <summary>Faces that see the new corner, or lie in one plane with it, are replaced by a fan from it to their outline.</summary>
    private bool Cover(int corner)
    {
        var y = corners[corner].Stretched;
        var seen = faces.FindAll(f => f.StretchedNormal.Dot(y) - f.StretchedOffset > -Coplanar);
        if (!seen.Exists(f => f.StretchedNormal.Dot(y) - f.StretchedOffset > Coplanar))
            return true;

        var edges = new HashSet<(int From, int To)>();
        foreach (var f in seen)
        {
            edges.Add((f.A, f.B));
            edges.Add((f.B, f.C));
            edges.Add((f.C, f.A));
        }
        faces.RemoveAll(f => f.StretchedNormal.Dot(y) - f.StretchedOffset > -Coplanar);
        foreach (var (from, to) in edges)
        {
            if (edges.Contains((to, from)))
                continue;
            var face = MakeFace(from, to, corner);
            if (!(face.StretchedOffset > Coplanar))
                return false;
            faces.Add(face);
        }
        return true;
    }
}
