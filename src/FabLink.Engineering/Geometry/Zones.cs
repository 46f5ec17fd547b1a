namespace FabLink.Engineering.Geometry;

/// <summary>Which boundary of the zone a point touches; for circularity the upper boundary is the outer circle.</summary>
public enum ZoneSide
{
    Lower,
    Upper,
}

/// <summary>A point that touches the zone. The weights of each side sum to one and balance: the weighted mean of the upper points
/// less that of the lower points is the width times the normal (for circularity: the weighted unit vectors from the centre
/// cancel). No small change of the feature can therefore bring all of them closer.</summary>
public sealed record ActivePoint(int Index, ZoneSide Side, double Weight);

/// <summary>Two of the points; their difference, upper less lower, is one vertex of a <see cref="WidthProof"/>.</summary>
public readonly record struct PointPair(int Upper, int Lower);

/// <summary>
/// Why no direction sees the points narrower than the lower bound. The width along a unit vector n is the largest n·(pᵢ − pⱼ).
/// The differences named by <paramref name="Pairs"/> are corners of a closed surface around the origin made of
/// <paramref name="Faces"/> (two corners each in the plane, three in space, turning counter-clockwise seen from outside); every
/// face lies at least the lower bound away from the origin, so along every n some difference reaches at least that far.
/// </summary>
public sealed record WidthProof(IReadOnlyList<PointPair> Pairs, IReadOnlyList<int[]> Faces);

/// <summary>The two closest parallel lines that hold all points (straightness, ISO 12780-1).</summary>
public sealed record StraightnessZone(
    Vector2D Point, Vector2D Direction, double Width, double LowerBound, IReadOnlyList<ActivePoint> Active, WidthProof Proof);

/// <summary>The two closest parallel planes that hold all points (flatness, ISO 12781-1).</summary>
public sealed record FlatnessZone(
    Vector3D Point, Vector3D Normal, double Width, double LowerBound, IReadOnlyList<ActivePoint> Active, WidthProof Proof);

/// <summary>The two concentric circles with the smallest difference of radii that hold all points (roundness, ISO 12181-1).</summary>
public sealed record CircularityZone(
    Vector2D Centre,
    double InnerRadius,
    double OuterRadius,
    double Width,
    double LowerBound,
    IReadOnlyList<ActivePoint> Active,
    CircularityProof Proof);

/// <summary>
/// Why no centre does better than the lower bound. Lengths are the caller's; positions are relative to <paramref name="Origin"/>.
/// A centre farther out than <paramref name="FarRadius"/> R sees the points no narrower than
/// <paramref name="StripWidth"/> − ρ²/(2(R−ρ)), ρ the largest distance of a point from the origin. The square of half side
/// R is tiled by <paramref name="Cells"/>, each proven by one pair of points or by lying within one of <paramref name="Discs"/>.
/// </summary>
public sealed record CircularityProof(
    Vector2D Origin, double FarRadius, double StripWidth, IReadOnlyList<ProvenCell> Cells, IReadOnlyList<ProvenDisc> Discs)
{
    public static CircularityProof None(Vector2D origin) => new(origin, 0, 0, [], []);
}

/// <summary>A square of centres. With <paramref name="Disc"/> null: the difference of the distances to points Outer and Inner at the
/// middle, less half diagonal × min(2, 2|pₒ − pᵢ|/(dₒ + dᵢ − 2·half diagonal)), is at least <paramref name="Bound"/>.</summary>
public readonly record struct ProvenCell(Vector2D Middle, double HalfSide, int Outer, int Inner, int? Disc, double Bound);

/// <summary>A disc about a local optimum. Points named touch the zone there to within <paramref name="Slack"/>; every direction v
/// has an outer and an inner one with (uᵢ − uₒ)·v ≥ m (u: unit vectors from the middle), which outweighs the curvature
/// |δ|²/(2(r − |δ|)) as far as 2mr/(1 + 2m). Within that radius no centre is better than <paramref name="Bound"/>.</summary>
public sealed record ProvenDisc(
    Vector2D Middle, double Radius, double Slack, double Steepness, IReadOnlyList<int> Outer, IReadOnlyList<int> Inner, double Bound);
