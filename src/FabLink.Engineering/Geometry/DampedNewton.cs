namespace FabLink.Engineering.Geometry;

/// <summary>Half a sum of squares that depends on a few parameters, seen from where those parameters now stand.</summary>
internal interface ILocalModel<TSelf>
    where TSelf : struct, ILocalModel<TSelf>, allows ref struct
{
    /// <summary>Number of parameters, at most <see cref="DampedNewton.MostParameters"/>.</summary>
    static abstract int Parameters { get; }

    /// <summary>Value with gradient and the exact, row-major matrix of second derivatives.</summary>
    double Evaluate(scoped Span<double> gradient, scoped Span<double> hessian);

    TSelf Moved(scoped ReadOnlySpan<double> step);
}

/// <summary>Newton's method with Levenberg and Marquardt's damping (J. Nocedal, S. J. Wright, Numerical Optimization,
/// 2nd edition, chapters 3 and 10), for problems scaled to about one.</summary>
internal static class DampedNewton
{
    public const int MostParameters = 5;
    private const int MaximumSteps = 200;

    /// <summary>Step below which the scaled parameters no longer change in double precision.</summary>
    private const double Converged = 1e-14;

    /// <summary>Step below which Newton's method has long been converging quadratically.</summary>
    private const double Polishing = 1e-6;

    public static TModel Minimise<TModel>(TModel model, out double value)
        where TModel : struct, ILocalModel<TModel>, allows ref struct
    {
        var k = TModel.Parameters;
        Span<double> gradient = stackalloc double[k];
        Span<double> hessian = stackalloc double[k * k];
        Span<double> trialGradient = stackalloc double[k];
        Span<double> trialHessian = stackalloc double[k * k];
        Span<double> step = stackalloc double[k];

        value = model.Evaluate(gradient, hessian);
        var (damping, lastPolish) = (0.0, double.PositiveInfinity);
        for (var i = 0; i < MaximumSteps; i++)
        {
            if (!TrySolve(k, hessian, damping, gradient, step))
            {
                damping = Raise(damping);
                continue;
            }
            var trial = model.Moved(step);
            var trialValue = trial.Evaluate(trialGradient, trialHessian);

            // Near the end the value is all rounding and cannot judge a step; an undamped step that small improves the parameters
            // until it no longer shrinks.
            var size = Largest(step);
            var polishing = damping == 0 && size <= Polishing;
            if (polishing || trialValue <= value)
            {
                model = trial;
                value = trialValue;
                trialGradient.CopyTo(gradient);
                trialHessian.CopyTo(hessian);
                damping = damping < 1e-6 ? 0 : damping / 8;
            }
            else
            {
                damping = size <= Polishing ? 0 : Raise(damping);
            }
            if (size <= Converged || (polishing && size > lastPolish / 2))
                break;
            lastPolish = polishing ? size : double.PositiveInfinity;
        }
        return model;
    }

    private static double Raise(double damping) => damping == 0 ? 1e-4 : damping * 8;

    private static double Largest(ReadOnlySpan<double> v)
    {
        var largest = 0.0;
        foreach (var x in v)
            largest = Math.Max(largest, Math.Abs(x));
        return largest;
    }

    /// <summary>Cholesky solution of (H + μ·max diag·I) s = −g; false when that matrix is not positive definite.</summary>
    private static bool TrySolve(int k, ReadOnlySpan<double> h, double damping, ReadOnlySpan<double> g, Span<double> s)
    {
        Span<double> l = stackalloc double[MostParameters * MostParameters];
        var largest = 0.0;
        for (var i = 0; i < k; i++)
            largest = Math.Max(largest, Math.Abs(h[(i * k) + i]));

        for (var i = 0; i < k; i++)
        {
            for (var j = 0; j <= i; j++)
            {
                var sum = h[(i * k) + j] + (i == j ? damping * largest : 0);
                for (var m = 0; m < j; m++)
                    sum -= l[(i * k) + m] * l[(j * k) + m];
                if (i != j)
                {
                    l[(i * k) + j] = sum / l[(j * k) + j];
                    continue;
                }
                if (!(sum > 1e-15 * largest))
                    return false;
                l[(i * k) + i] = Math.Sqrt(sum);
            }
        }
        for (var i = 0; i < k; i++)
        {
            var sum = -g[i];
            for (var m = 0; m < i; m++)
                sum -= l[(i * k) + m] * s[m];
            s[i] = sum / l[(i * k) + i];
        }
        for (var i = k - 1; i >= 0; i--)
        {
            var sum = s[i];
            for (var m = i + 1; m < k; m++)
                sum -= l[(m * k) + i] * s[m];
            s[i] = sum / l[(i * k) + i];
        }
        return true;
    }
}
