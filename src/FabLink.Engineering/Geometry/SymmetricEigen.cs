namespace FabLink.Engineering.Geometry;

/// <summary>Eigenvalues and eigenvectors of a small symmetric matrix by cyclic Jacobi rotations
/// (Golub and Van Loan, Matrix Computations, 4th edition, 8.5), which keeps small eigenvalues as accurate as the matrix allows.</summary>
internal static class SymmetricEigen
{
    private const int MaximumSweeps = 60;

    /// <summary>Row-major n×n <paramref name="matrix"/> is overwritten; on return <paramref name="values"/> ascend and
    /// column k of <paramref name="vectors"/> belongs to value k.</summary>
    public static void Solve(int n, Span<double> matrix, Span<double> values, Span<double> vectors)
    {
        vectors[..(n * n)].Clear();
        for (var i = 0; i < n; i++)
            vectors[(i * n) + i] = 1;

        for (var sweep = 0; sweep < MaximumSweeps; sweep++)
        {
            var turned = false;
            for (var p = 0; p < n - 1; p++)
            {
                for (var q = p + 1; q < n; q++)
                    turned |= Rotate(n, matrix, vectors, p, q);
            }
            if (!turned)
                break;
        }

        for (var i = 0; i < n; i++)
            values[i] = matrix[(i * n) + i];
        SortAscending(n, values, vectors);
    }

    private static bool Rotate(int n, Span<double> a, Span<double> v, int p, int q)
    {
        var off = a[(p * n) + q];
        var (app, aqq) = (a[(p * n) + p], a[(q * n) + q]);
        if (off == 0 || Math.Abs(off) <= 1e-18 * Math.Sqrt(Math.Abs(app * aqq)))
            return false;

        var theta = (aqq - app) / (2 * off);
        var t = double.IsInfinity(theta * theta)
            ? 1 / (2 * theta)
            : Math.CopySign(1, theta) / (Math.Abs(theta) + Math.Sqrt((theta * theta) + 1));
        var c = 1 / Math.Sqrt((t * t) + 1);
        var s = t * c;
        if (s == 0)
            return false;

        a[(p * n) + p] = app - (t * off);
        a[(q * n) + q] = aqq + (t * off);
        a[(p * n) + q] = a[(q * n) + p] = 0;
        for (var k = 0; k < n; k++)
        {
            if (k != p && k != q)
            {
                var (akp, akq) = (a[(k * n) + p], a[(k * n) + q]);
                a[(k * n) + p] = a[(p * n) + k] = (c * akp) - (s * akq);
                a[(k * n) + q] = a[(q * n) + k] = (s * akp) + (c * akq);
            }
            var (vkp, vkq) = (v[(k * n) + p], v[(k * n) + q]);
            v[(k * n) + p] = (c * vkp) - (s * vkq);
            v[(k * n) + q] = (s * vkp) + (c * vkq);
        }
        return true;
    }

    private static void SortAscending(int n, Span<double> values, Span<double> vectors)
    {
        for (var i = 0; i < n - 1; i++)
        {
            var least = i;
            for (var j = i + 1; j < n; j++)
                least = values[j] < values[least] ? j : least;
            if (least == i)
                continue;
            (values[i], values[least]) = (values[least], values[i]);
            for (var k = 0; k < n; k++)
                (vectors[(k * n) + i], vectors[(k * n) + least]) = (vectors[(k * n) + least], vectors[(k * n) + i]);
        }
    }
}
