namespace FabLink.Engineering.BoltUp;

/// <summary>
/// The smallest point, in a quadratic measure, of at most three coordinates that satisfies linear requirements
/// s·m ≤ r. At most as many requirements bind as there are coordinates, so the choices are tried one by one.
/// </summary>
internal sealed class SmallestPoint(double[,] metric, int[] free)
{
    private const int MostKept = 14;
    private readonly List<(double[] Slope, double Right)> requirements = [];

    public void Require(double[] slope, double right)
    {
        if (requirements.Count == MostKept)
            requirements.RemoveAt(0);
        requirements.Add((slope, right));
    }

    /// <summary>Null when the requirements contradict each other.</summary>
    public double[]? Solve()
    {
        double[]? best = null;
        var least = double.PositiveInfinity;
        foreach (var chosen in Choices())
        {
            if (Binding(chosen) is not { } point || requirements.Any(each => Dot(each.Slope, point) > each.Right + 1e-9))
                continue;
            var size = Size(point);
            if (size < least)
                (least, best) = (size, point);
        }

        return best;
    }

    private IEnumerable<int[]> Choices()
    {
        var count = requirements.Count;
        for (var i = 0; i < count; i++)
        {
            yield return [i];
            for (var j = i + 1; j < count && free.Length > 1; j++)
            {
                yield return [i, j];
                for (var k = j + 1; k < count && free.Length > 2; k++)
                    yield return [i, j, k];
            }
        }
    }

    /// <summary>Smallest point on which the chosen requirements hold as equations: one linear system.</summary>
    private double[]? Binding(int[] chosen)
    {
        int n = free.Length, size = n + chosen.Length;
        var matrix = new double[size, size + 1];
        for (var i = 0; i < n; i++)
        {
            for (var j = 0; j < n; j++)
                matrix[i, j] = metric[free[i], free[j]];
            for (var k = 0; k < chosen.Length; k++)
                matrix[i, n + k] = matrix[n + k, i] = requirements[chosen[k]].Slope[free[i]];
        }

        for (var k = 0; k < chosen.Length; k++)
            matrix[n + k, size] = requirements[chosen[k]].Right;
        if (!Eliminate(matrix, size))
            return null;
        var point = new double[3];
        for (var i = 0; i < n; i++)
            point[free[i]] = matrix[i, size];
        return point;
    }

    private static bool Eliminate(double[,] matrix, int size)
    {
        for (var column = 0; column < size; column++)
        {
            var pivot = column;
            for (var row = column + 1; row < size; row++)
            {
                if (Math.Abs(matrix[row, column]) > Math.Abs(matrix[pivot, column]))
                    pivot = row;
            }

            if (Math.Abs(matrix[pivot, column]) < 1e-13)
                return false;
            for (var k = 0; k <= size; k++)
                (matrix[pivot, k], matrix[column, k]) = (matrix[column, k], matrix[pivot, k]);
            for (var row = 0; row < size; row++)
            {
                var factor = row == column ? 0 : matrix[row, column] / matrix[column, column];
                for (var k = column; k <= size && factor != 0; k++)
                    matrix[row, k] -= factor * matrix[column, k];
            }
        }

        for (var row = 0; row < size; row++)
            matrix[row, size] /= matrix[row, row];
        return true;
    }

    private double Size(double[] point)
    {
        double sum = 0;
        foreach (var i in free)
        {
            foreach (var j in free)
                sum += point[i] * metric[i, j] * point[j];
        }

        return sum;
    }

    private static double Dot(double[] a, double[] b) => (a[0] * b[0]) + (a[1] * b[1]) + (a[2] * b[2]);
}
