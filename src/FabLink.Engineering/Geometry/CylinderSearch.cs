namespace FabLink.Engineering.Geometry;

/// <summary>Where a cylinder's axis may lie; lengths in units of the size of the set, from its centroid.</summary>
internal readonly record struct CylinderGuess(Vector3D Offset, Vector3D Direction, double Radius, double Score);

/// <summary>
/// For a given direction the algebraic circle through the projected points depends only on moments up to the fourth order
/// (D. Eberly, Least Squares Fitting of Data by Linear or Quadratic Structures, section on cylinders), so after one pass over the
/// points any number of directions can be tried at no further cost in the points.
/// </summary>
internal sealed class CylinderSearch
{
    private const int Directions = 800;
    private const int Refined = 8;
    private const int Kept = 4;

    private readonly double count;
    private readonly double[] first = new double[9];     // Σ X Xᵀ
    private readonly double[] second = new double[18];   // Σ X Yᵀ, Y the six products of X less their means
    private readonly double[] third = new double[36];    // Σ Y Yᵀ

    private CylinderSearch(ReadOnlySpan<Vector3D> points, Vector3D centre, double size)
    {
        count = points.Length;
        var inverse = 1 / size;
        Span<double> mean = stackalloc double[6];
        foreach (ref readonly var p in points)
        {
            var q = (p - centre) * inverse;
            mean[0] += q.X * q.X;
            mean[1] += q.X * q.Y;
            mean[2] += q.X * q.Z;
            mean[3] += q.Y * q.Y;
            mean[4] += q.Y * q.Z;
            mean[5] += q.Z * q.Z;
        }
        (first[0], first[1], first[2], first[4], first[5], first[8]) = (mean[0], mean[1], mean[2], mean[3], mean[4], mean[5]);
        (first[3], first[6], first[7]) = (first[1], first[2], first[5]);
        for (var i = 0; i < 6; i++)
            mean[i] /= count;

        Span<double> x = stackalloc double[3];
        Span<double> y = stackalloc double[6];
        foreach (ref readonly var p in points)
        {
            var q = (p - centre) * inverse;
            (x[0], x[1], x[2]) = (q.X, q.Y, q.Z);
            y[0] = (q.X * q.X) - mean[0];
            y[1] = (q.X * q.Y) - mean[1];
            y[2] = (q.X * q.Z) - mean[2];
            y[3] = (q.Y * q.Y) - mean[3];
            y[4] = (q.Y * q.Z) - mean[4];
            y[5] = (q.Z * q.Z) - mean[5];
            for (var j = 0; j < 6; j++)
            {
                for (var i = 0; i < 3; i++)
                    second[(i * 6) + j] += x[i] * y[j];
                for (var i = 0; i <= j; i++)
                    third[(i * 6) + j] += y[i] * y[j];
            }
        }
        for (var j = 0; j < 6; j++)
        {
            for (var i = 0; i < j; i++)
                third[(j * 6) + i] = third[(i * 6) + j];
        }
    }

    /// <summary>The few most promising cylinders, best first.</summary>
    public static IReadOnlyList<CylinderGuess> Candidates(ReadOnlySpan<Vector3D> points, Vector3D centre, double size)
    {
        var search = new CylinderSearch(points, centre, size);
        var turn = Math.PI * (3 - Math.Sqrt(5));
        var all = Enumerable.Range(0, Directions).Select(i =>
        {
            var z = (i + 0.5) / Directions;
            var r = Math.Sqrt(1 - (z * z));
            var (sin, cos) = Math.SinCos(turn * i);
            return search.Try(new Vector3D(r * cos, r * sin, z));
        });
        var coarse = Apart(all, Refined, 0.2);
        return Apart(coarse.Select(search.Refine), Kept, 0.02);
    }

    private static List<CylinderGuess> Apart(IEnumerable<CylinderGuess> guesses, int most, double angle)
    {
        var kept = new List<CylinderGuess>(most);
        foreach (var guess in guesses.Where(g => double.IsFinite(g.Score)).OrderBy(g => g.Score))
        {
            if (kept.TrueForAll(k => k.Direction.Cross(guess.Direction).Length > angle))
                kept.Add(guess);
            if (kept.Count == most)
                break;
        }
        return kept;
    }

    private CylinderGuess Try(Vector3D w)
    {
        var u = w.AnyPerpendicular();
        var v = w.Cross(u);
        ReadOnlySpan<double> p =
        [
            1 - (w.X * w.X), -2 * w.X * w.Y, -2 * w.X * w.Z, 1 - (w.Y * w.Y), -2 * w.Y * w.Z, 1 - (w.Z * w.Z),
        ];
        var raw = 0.0;
        Span<double> b = stackalloc double[3];
        for (var j = 0; j < 6; j++)
        {
            for (var i = 0; i < 6; i++)
                raw += p[i] * third[(i * 6) + j] * p[j];
            for (var i = 0; i < 3; i++)
                b[i] += second[(i * 6) + j] * p[j];
        }
        var (uu, uv, vv) = (Form(u, u), Form(u, v), Form(v, v));
        var determinant = (uu * vv) - (uv * uv);
        if (!(determinant > 1e-12 * uu * vv))
            return new CylinderGuess(default, w, 0, double.PositiveInfinity);

        var right = new Vector3D(b[0], b[1], b[2]);
        var (ru, rv) = (u.Dot(right), v.Dot(right));
        var (cu, cv) = (((vv * ru) - (uv * rv)) / determinant, ((uu * rv) - (uv * ru)) / determinant);
        var squares = Math.Max(0, raw - (ru * cu) - (rv * cv));
        var offset = (0.5 * cu * u) + (0.5 * cv * v);
        var radiusSquared = offset.LengthSquared + ((uu + vv) / count);
        return new CylinderGuess(offset, w, Math.Sqrt(radiusSquared), squares / (4 * radiusSquared));
    }

    private double Form(Vector3D a, Vector3D b) =>
        (a.X * ((first[0] * b.X) + (first[1] * b.Y) + (first[2] * b.Z)))
        + (a.Y * ((first[3] * b.X) + (first[4] * b.Y) + (first[5] * b.Z)))
        + (a.Z * ((first[6] * b.X) + (first[7] * b.Y) + (first[8] * b.Z)));

    /// <summary>Compass search: four tilts, halved when none is better.</summary>
    private CylinderGuess Refine(CylinderGuess guess)
    {
        for (var tilt = 0.05; tilt > 1e-4;)
        {
            var u = guess.Direction.AnyPerpendicular();
            var v = guess.Direction.Cross(u);
            var best = guess;
            foreach (var step in (ReadOnlySpan<Vector3D>)[u, -u, v, -v])
            {
                var trial = Try((guess.Direction + (tilt * step)).Unit());
                best = trial.Score < best.Score ? trial : best;
            }
            if (best.Score < guess.Score)
                guess = best;
            else
                tilt /= 2;
        }
        return guess;
    }
}
