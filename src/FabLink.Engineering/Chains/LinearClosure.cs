namespace FabLink.Engineering.Chains;

/// <summary>Closing dimension to first order: Expected + Σ sᵢ (xᵢ − middleᵢ). Exact for a linear chain.</summary>
internal sealed class LinearClosure(double expected, Variable[] variables, double[] sensitivities)
{
    public double Expected => expected;

    public Bounds WorstCase => Bounds.About(expected, Sum(static (v, s) => Math.Abs(s) * v.Half));

    /// <summary>Half width of the root sum square: √Σ(sᵢ·half toleranceᵢ)².</summary>
    public double RootSumSquareHalf => Math.Sqrt(Sum(static (v, s) => Square(s * v.Half)));

    public IReadOnlyList<Contribution> Contributions()
    {
        var width = Sum(static (v, s) => Math.Abs(s) * v.Half);
        var variance = Sum(static (v, s) => Square(s * v.StandardDeviation));
        return
        [
            .. variables.Select((v, i) =>
            {
                var half = Math.Abs(sensitivities[i]) * v.Half;
                var square = Square(sensitivities[i] * v.StandardDeviation);
                return new Contribution(v.Name, sensitivities[i], half, width > 0 ? half / width : 0, variance > 0 ? square / variance : 0);
            }),
        ];
    }

    /// <summary>Rounding that must not decide whether a chain that closes exactly at its limit closes.</summary>
    public double Slack => 1e-12 * Math.Max(Sum(static (v, s) => Math.Abs(s * v.Middle)), WorstCase.Upper - WorstCase.Lower);

    public bool? Closes(RequiredLimits? required) => required is null
        ? null
        : WorstCase.Lower >= required.Low - Slack && WorstCase.Upper <= required.High + Slack;

    /// <summary>With the other links between oL and oU the link must keep s·x within [low − oL, high − oU].</summary>
    public LinkRoom Room(int index, RequiredLimits required)
    {
        var (v, s) = (variables[index], sensitivities[index]);
        var others = expected - (s * v.Middle);
        var othersHalf = Sum(static (w, t) => Math.Abs(t) * w.Half) - (Math.Abs(s) * v.Half);
        var (from, to) = (required.Low - (others - othersHalf), required.High - (others + othersHalf));
        var shortfall = from - to > Slack ? from - to : 0;
        var worst = shortfall > 0 ? null : s > 0 ? Limits(from / s, to / s) : Limits(to / s, from / s);

        var half = (required.High - required.Low) / 2;
        var squares = Square(half) - (Sum(static (w, t) => Square(t * w.Half)) - Square(s * v.Half));
        var statistical = double.IsFinite(half) && squares >= 0
            ? Bounds.About((((required.Low + required.High) / 2) - others) / s, Math.Sqrt(squares) / Math.Abs(s))
            : null;
        return new LinkRoom(v.Name, worst, shortfall, statistical);
    }

    private static RequiredLimits Limits(double lower, double upper) =>
        new(double.IsFinite(lower) ? lower : null, double.IsFinite(upper) ? upper : null);

    private static double Square(double x) => x * x;

    private double Sum(Func<Variable, double, double> term)
    {
        var sum = 0.0;
        for (var i = 0; i < variables.Length; i++)
            sum += term(variables[i], sensitivities[i]);
        return sum;
    }
}
