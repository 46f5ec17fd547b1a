namespace FabLink.Engineering.Geometry;

/// <summary>Which feature to fit to measured points, and how.</summary>
/// <param name="Kind">line, plane, circle, cylinder or sphere.</param>
/// <param name="Method">least-squares or minimum-zone.</param>
/// <param name="Points">Two coordinates each for a circle, two or three for a line, three for the others; all in one unit.</param>
public sealed record FeatureRequest(string? Kind, string? Method, IReadOnlyList<IReadOnlyList<double>>? Points);

/// <summary>The fitted feature, in the unit of the points; what does not apply is null.</summary>
/// <param name="Kind">As understood.</param>
/// <param name="Method">As understood.</param>
/// <param name="Count">Number of points.</param>
/// <param name="Characteristic">Name of the form error: straightness, flatness, roundness, cylindricity, sphericity.</param>
/// <param name="Form">The form error.</param>
/// <param name="Centre">Centre of a circle or sphere; a point on the line, plane or axis.</param>
/// <param name="Radius">For a minimum zone the mean of the two radii.</param>
/// <param name="Direction">Unit vector along a line or axis, or the normal of a plane.</param>
/// <param name="LowerBound">Minimum zone only: no feature has a smaller form error than this.</param>
/// <param name="Gap">Form less lower bound.</param>
/// <param name="RootMeanSquare">Least squares only: of the distances.</param>
/// <param name="Residuals">Distance of each point from the feature, signed where there are two sides.</param>
/// <param name="Active">Minimum zone only: the points that hold the zone and their weights.</param>
/// <param name="Sources">Where the definitions come from.</param>
/// <param name="Cautions">What the person should know before using the figures.</param>
public sealed record FeatureAnswer(
    string Kind,
    string Method,
    int Count,
    string Characteristic,
    double Form,
    IReadOnlyList<double> Centre,
    double? Radius,
    IReadOnlyList<double>? Direction,
    double? LowerBound,
    double? Gap,
    double? RootMeanSquare,
    IReadOnlyList<double> Residuals,
    IReadOnlyList<FeaturePoint>? Active,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>A point that holds a minimum zone; <paramref name="Side"/> is upper or lower (for a circle outer or inner).</summary>
public sealed record FeaturePoint(int Index, string Side, double Weight);

/// <summary>Fits of points as one question and one answer.</summary>
public static class FeatureCalculation
{
    public const int MostPoints = 1_000_000;
    public const string LeastSquaresMethod = "least-squares";
    public const string MinimumZoneMethod = "minimum-zone";

    private const string Pearson = "Orthogonal least squares through the centroid along principal directions (Pearson, 1901).";
    private const string Geometric = "Geometric (orthogonal) least squares (Gander, Golub, Strebel, BIT 34, 1994).";

    /// <exception cref="InputError">Names the field and the point.</exception>
    /// <exception cref="OperationCanceledException">A search that goes on for long was ended by <paramref name="cancellation"/>.</exception>
    public static FeatureAnswer Run(FeatureRequest request, CancellationToken cancellation = default)
    {
        if (request.Kind is not ("line" or "plane" or "circle" or "cylinder" or "sphere"))
            throw new InputError("kind", $"The kind is line, plane, circle, cylinder or sphere, not '{request.Kind}'.");
        if (request.Method is not (LeastSquaresMethod or MinimumZoneMethod))
            throw new InputError("method", $"The method is {LeastSquaresMethod} or {MinimumZoneMethod}, not '{request.Method}'.");
        var rows = request.Points;
        if (rows is null || rows.Count == 0)
            throw new InputError("points", $"A {request.Kind} needs points; none were given.");
        if (rows.Count > MostPoints)
            throw new InputError("points", $"At most {MostPoints} points can be fitted at once, not {rows.Count}.");

        var planar = request.Kind == "circle" || (request.Kind == "line" && rows[0]?.Count == 2);
        CheckRows(rows, planar ? 2 : 3, request.Kind);
        return (request.Kind, request.Method, planar) switch
        {
            ("line", LeastSquaresMethod, true) => Line(Planar(rows)),
            ("line", MinimumZoneMethod, true) => Straightness(Planar(rows), cancellation),
            ("line", LeastSquaresMethod, false) => Line(Spatial(rows)),
            ("plane", LeastSquaresMethod, _) => Plane(Spatial(rows)),
            ("plane", MinimumZoneMethod, _) => Flatness(Spatial(rows), cancellation),
            ("circle", LeastSquaresMethod, _) => Circle(Planar(rows)),
            ("circle", MinimumZoneMethod, _) => Roundness(Planar(rows), cancellation),
            ("sphere", LeastSquaresMethod, _) => Sphere(Spatial(rows)),
            ("cylinder", LeastSquaresMethod, _) => Cylinder(Spatial(rows), cancellation),
            _ => throw new InputError("method", $"The minimum zone is computed for a plane, a circle and a line in the plane, not for a {request.Kind}{(planar ? "" : " in space")}."),
        };
    }

    private static void CheckRows(IReadOnlyList<IReadOnlyList<double>> rows, int needed, string kind)
    {
        for (var i = 0; i < rows.Count; i++)
        {
            if (rows[i] is null || rows[i].Count != needed)
                throw new InputError($"points/{i}", $"Point {i + 1} of a {kind} has {rows[i]?.Count ?? 0} coordinates; {needed} are needed.");
            for (var k = 0; k < needed; k++)
            {
                if (!double.IsFinite(rows[i][k]))
                    throw new InputError($"points/{i}/{k}", $"Point {i + 1}, coordinate {k + 1}, is not a finite number.");
            }
        }
    }

    private static Vector2D[] Planar(IReadOnlyList<IReadOnlyList<double>> rows) => [.. rows.Select(r => new Vector2D(r[0], r[1]))];

    private static Vector3D[] Spatial(IReadOnlyList<IReadOnlyList<double>> rows) => [.. rows.Select(r => new Vector3D(r[0], r[1], r[2]))];

    private static double[] List(Vector2D v) => [v.X, v.Y];

    private static double[] List(Vector3D v) => [v.X, v.Y, v.Z];

    private static FeatureAnswer Line(Vector2D[] points)
    {
        var fit = LeastSquares.Line(points);
        return Fitted("line", "straightness", fit.Form, List(fit.Point), null, List(fit.Direction), fit.SumOfSquares, [.. points.Select(fit.Distance)], 2, Pearson);
    }

    private static FeatureAnswer Line(Vector3D[] points)
    {
        var fit = LeastSquares.Line(points);
        return Fitted("line", "straightness", fit.Form, List(fit.Point), null, List(fit.Direction), fit.SumOfSquares, [.. points.Select(fit.Distance)], 2, Pearson)
            .With("In space the straightness is the diameter of the cylinder about the least squares line.");
    }

    private static FeatureAnswer Plane(Vector3D[] points)
    {
        var fit = LeastSquares.Plane(points);
        return Fitted("plane", "flatness", fit.Form, List(fit.Point), null, List(fit.Normal), fit.SumOfSquares, [.. points.Select(fit.Distance)], 3, Pearson);
    }

    private static FeatureAnswer Circle(Vector2D[] points)
    {
        var fit = LeastSquares.Circle(points);
        return Fitted("circle", "roundness", fit.Form, List(fit.Centre), fit.Radius, null, fit.SumOfSquares, [.. points.Select(fit.Distance)], 3, Geometric);
    }

    private static FeatureAnswer Sphere(Vector3D[] points)
    {
        var fit = LeastSquares.Sphere(points);
        return Fitted("sphere", "sphericity", fit.Form, List(fit.Centre), fit.Radius, null, fit.SumOfSquares, [.. points.Select(fit.Distance)], 4, Geometric);
    }

    private static FeatureAnswer Cylinder(Vector3D[] points, CancellationToken cancellation)
    {
        var fit = LeastSquares.Cylinder(points, cancellation);
        return Fitted("cylinder", "cylindricity", fit.Form, List(fit.Point), fit.Radius, List(fit.Direction), fit.SumOfSquares, [.. points.Select(fit.Distance)], 6, Geometric);
    }

    private static FeatureAnswer Straightness(Vector2D[] points, CancellationToken cancellation)
    {
        var zone = MinimumZone.Straightness(points, cancellation);
        return Zoned(
            "line", "straightness", zone.Width, zone.LowerBound, List(zone.Point), null, List(zone.Direction),
            [.. points.Select(p => zone.Direction.Cross(p - zone.Point))], zone.Active, ("upper", "lower"),
            "Minimum zone straightness: two parallel lines at the least distance (ISO 12780-1).");
    }

    private static FeatureAnswer Flatness(Vector3D[] points, CancellationToken cancellation)
    {
        var zone = MinimumZone.Flatness(points, cancellation);
        return Zoned(
            "plane", "flatness", zone.Width, zone.LowerBound, List(zone.Point), null, List(zone.Normal),
            [.. points.Select(p => zone.Normal.Dot(p - zone.Point))], zone.Active, ("upper", "lower"),
            "Minimum zone flatness: two parallel planes at the least distance (ISO 12781-1).");
    }

    private static FeatureAnswer Roundness(Vector2D[] points, CancellationToken cancellation)
    {
        var zone = MinimumZone.Circularity(points, cancellation);
        var radius = (zone.InnerRadius + zone.OuterRadius) / 2;
        return Zoned(
            "circle", "roundness", zone.Width, zone.LowerBound, List(zone.Centre), radius, null,
            [.. points.Select(p => (p - zone.Centre).Length - radius)], zone.Active, ("outer", "inner"),
            "Minimum zone roundness: two concentric circles at the least distance (ISO 12181-1).");
    }

    private static FeatureAnswer Fitted(
        string kind, string characteristic, double form, double[] centre, double? radius, double[]? direction,
        double sumOfSquares, double[] residuals, int exactly, string source)
    {
        List<string> cautions = ["Least squares never gives less than the minimum zone, which is how the standards define a form error."];
        if (residuals.Length <= exactly)
            cautions.Add($"{residuals.Length} points always fit a {kind}: they say nothing about its form.");
        cautions.Add("The form between the measured points is not known.");
        return new FeatureAnswer(
            kind, LeastSquaresMethod, residuals.Length, characteristic, form, centre, radius, direction, null, null,
            Math.Sqrt(sumOfSquares / residuals.Length), residuals, null, [source], cautions);
    }

    private static FeatureAnswer Zoned(
        string kind, string characteristic, double form, double lowerBound, double[] centre, double? radius, double[]? direction,
        double[] residuals, IReadOnlyList<ActivePoint> active, (string Upper, string Lower) sides, string source)
    {
        List<string> cautions = ["The form between the measured points is not known."];
        if (residuals.Length <= (kind == "line" ? 2 : 3))
            cautions.Add($"{residuals.Length} points always fit a {kind}: they say nothing about its form.");
        return new FeatureAnswer(
            kind, MinimumZoneMethod, residuals.Length, characteristic, form, centre, radius, direction, lowerBound, form - lowerBound, null, residuals,
            [.. active.Select(a => new FeaturePoint(a.Index, a.Side == ZoneSide.Upper ? sides.Upper : sides.Lower, a.Weight))],
            [source], cautions);
    }

    private static FeatureAnswer With(this FeatureAnswer answer, string caution) =>
        answer with { Cautions = [.. answer.Cautions, caution] };
}
