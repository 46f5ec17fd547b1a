using System.Globalization;
using FabLink.Engineering;
using FabLink.Engineering.Geometry;

namespace FabLink.Portal.Features.Surveys;

/// <summary>
/// Where the points of a survey are in their own plane. A level one leaves x and y as they are; one that looks along x is read as y, z and one that
/// looks along y as z, x, as the holes of a drawing are. Without z it is x and y.
/// </summary>
/// <param name="Places">One for each point.</param>
/// <param name="Why">Why their plane is not known; empty when it is, and then the places mean something.</param>
public sealed record SurveyPlane(IReadOnlyList<Vector2D> Places, string Why, IReadOnlyList<string> Cautions)
{
    /// <summary>Of one surface by hand and arm; less is not told from a point taken a little deeper in its hole (common practice).</summary>
    private const double FlatMm = 1;

    public sealed record Point(string Name, decimal X, decimal Y, decimal? Z, decimal? Uncertainty)
    {
        public double Unsure => Math.Max(FlatMm, 3 * (double)(Uncertainty ?? 0));

        public Vector3D Place => new((double)X, (double)Y, (double)(Z ?? 0));
    }

    /// <param name="matched">Names of the points that have a hole; they alone span the plane.</param>
    public static SurveyPlane Of(IReadOnlyList<Point> points, IReadOnlySet<string> matched)
    {
        var spanning = points.Where(point => matched.Contains(point.Name)).ToList();
        var level = new SurveyPlane([.. points.Select(point => new Vector2D((double)point.X, (double)point.Y))], "", []);
        if (spanning.Exists(point => point.Z is null))
        {
            return spanning.TrueForAll(point => point.Z is null)
                ? level
                : level with { Cautions = [$"{Named(spanning.Where(point => point.Z is null))} without z: all are compared by x and y."] };
        }

        if (spanning.Count < 2)
            return level;
        var places = spanning.Select(point => point.Place).ToArray();
        if (spanning.Count < 3 || OnLine(spanning, places))
        {
            return places.Max(place => place.Z) - places.Min(place => place.Z) <= spanning.Max(point => point.Unsure)
                ? level
                : level with { Why = $"{Named(spanning)} {(spanning.Count < 3 ? "are too few" : "lie on one line")} and differ in z: the plane of the holes is not known. Take another hole, or leave z out if the holes look along z." };
        }

        try
        {
            return In(LeastSquares.Plane(places), points, spanning);
        }
        catch (InputError)
        {
            return level with { Why = $"{Named(spanning)} lie in no plane." };
        }
    }

    private static bool OnLine(List<Point> points, Vector3D[] places)
    {
        try
        {
            var line = LeastSquares.Line(places);
            return places.Zip(points).All(pair => line.Distance(pair.First) <= pair.Second.Unsure);
        }
        catch (InputError)
        {
            return true;
        }
    }

    private static SurveyPlane In(PlaneFit plane, IReadOnlyList<Point> points, List<Point> spanning)
    {
        var normal = plane.Normal;
        var (x, y, z) = (Math.Abs(normal.X), Math.Abs(normal.Y), Math.Abs(normal.Z));
        var (first, along, names) = z >= x && z >= y ? (new Vector3D(1, 0, 0), normal.Z, "x and y") : x >= y ? (new Vector3D(0, 1, 0), normal.X, "y and z") : (new Vector3D(0, 0, 1), normal.Y, "z and x");
        if (along < 0)
            normal = -normal;
        var u = (first - (first.Dot(normal) * normal)).Unit();
        var v = normal.Cross(u);
        var cautions = new List<string>();
        var tilt = Math.Acos(Math.Min(1, Math.Abs(normal.Z))) * 180 / Math.PI;
        if (tilt > 1)
            cautions.Add(string.Create(CultureInfo.InvariantCulture, $"The points lie in a plane {tilt:0.#}° out of level; they are compared in it, by what {names} are there."));
        if (spanning.Where(point => Math.Abs(plane.Distance(point.Place)) > point.Unsure).ToList() is { Count: > 0 } off)
            cautions.Add($"Off the plane of the others: {string.Join(", ", off.Select(point => string.Create(CultureInfo.InvariantCulture, $"point {point.Name} by {Math.Abs(plane.Distance(point.Place)):0.##} mm")))}. A flat joint takes them as in it.");
        return new SurveyPlane([.. points.Select(point => new Vector2D(u.Dot(point.Place), v.Dot(point.Place)))], "", cautions);
    }

    private static string Named(IEnumerable<Point> points)
    {
        var names = points.Select(point => point.Name).ToList();
        return $"{(names.Count == 1 ? "Point" : "Points")} {string.Join(", ", names.Take(8))}{(names.Count > 8 ? " and more" : "")}";
    }
}
