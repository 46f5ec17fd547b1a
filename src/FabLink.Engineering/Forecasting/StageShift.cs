using FabLink.Engineering.Chains;
using FabLink.Engineering.Gauging;

namespace FabLink.Engineering.Forecasting;

/// <summary>One characteristic of one piece, measured at tack and again later; both in the same unit.</summary>
public sealed record ShiftPair(double AtTack, double Later);

/// <summary>What is believed before the first pair: a normal-inverse-gamma distribution of mean and variance of the shift.</summary>
/// <param name="Scale">Inverse gamma scale β₀ = Scale²/2, in the unit of the pairs: the scatter below which a few pairs that agree are
/// not believed.</param>
/// <param name="Mean">Expected shift μ₀.</param>
/// <param name="Weight">What that expectation weighs, in pairs (κ₀).</param>
/// <param name="Degrees">Twice the inverse gamma shape α₀: how many pairs the scale weighs. −1 is the limit in which nothing is known about the
/// spread, density of (μ, σ²) ∝ 1/σ²; two pairs make a proper posterior of it.</param>
public sealed record ShiftPrior(double Scale, double Mean = 0, double Weight = 0.001, double Degrees = -1);

/// <summary>
/// Learns how far a dimension moves between tack and a later stage (weld shrinkage, the habit of one shop). Model: the shifts of one shop and one
/// kind of characteristic are normal with unknown mean and variance; conjugate normal-inverse-gamma prior.
/// Source: A. Gelman, J. Carlin, H. Stern, D. Dunson, A. Vehtari, D. Rubin, Bayesian Data Analysis, 3rd edition, 2013, sections 3.2 and 3.3.
/// </summary>
public static class StageShift
{
    /// <summary>A shift is not used on fewer pairs, however well they agree.</summary>
    public const int FewestPairs = 3;

    /// <summary>Probability of every interval stated here.</summary>
    public const double Confidence = 0.95;

    /// <param name="pairs">Two or more; one shop, one kind of characteristic, one unit.</param>
    /// <param name="prior">Stated with the answer.</param>
    /// <exception cref="InputError">Fewer than two pairs, a number that is not finite, a prior without weight or scale.</exception>
    public static ShiftAnswer Learn(IReadOnlyList<ShiftPair> pairs, ShiftPrior prior)
    {
        Finite.RequirePositive(prior.Scale, "prior/scale");
        Finite.Require(prior.Mean, "prior/mean");
        Finite.RequirePositive(prior.Weight, "prior/weight");
        if (!(prior.Degrees >= -1 && double.IsFinite(prior.Degrees)))
            throw new InputError("prior/degrees", $"The degrees of freedom of the prior must be −1 or more, not {prior.Degrees}.");
        if (pairs.Count < 2)
            throw new InputError("pairs", $"A shift is learned from two pairs or more, not {pairs.Count}.");
        var shifts = new double[pairs.Count];
        for (var i = 0; i < shifts.Length; i++)
            shifts[i] = Finite.Require(pairs[i].Later, $"pairs/{i}/later") - Finite.Require(pairs[i].AtTack, $"pairs/{i}/atTack");

        var n = shifts.Length;
        var (mean, deviation) = Moments.Of(shifts);
        var weight = prior.Weight + n;
        var degrees = prior.Degrees + n;
        // 2β of the posterior: what the prior brings, the scatter of the pairs, and how far their mean lies from what was expected.
        var squares = (prior.Scale * prior.Scale)
            + ((n - 1) * deviation * deviation)
            + (prior.Weight * n / weight * (mean - prior.Mean) * (mean - prior.Mean));
        return new ShiftAnswer(n, ((prior.Weight * prior.Mean) + (n * mean)) / weight, Math.Sqrt(squares / degrees), degrees, weight, prior);
    }
}

/// <summary>What was learned about a shift.</summary>
/// <param name="Pairs">How many were seen.</param>
/// <param name="Mean">Posterior mean of the shift, later less tack.</param>
/// <param name="Spread">Posterior scale of one shift about the mean, √(β/α).</param>
/// <param name="Degrees">Degrees of freedom of its Student distributions, 2α.</param>
/// <param name="Weight">κ of the posterior, in pairs.</param>
/// <param name="Prior">As understood.</param>
public sealed record ShiftAnswer(int Pairs, double Mean, double Spread, double Degrees, double Weight, ShiftPrior Prior)
{
    /// <summary>The mean shift lies in here with 95 %: Student with scale Spread/√κ.</summary>
    public Bounds Interval => Bounds.About(Mean, Distributions.StudentCoverage(StageShift.Confidence, Degrees) * Spread / Math.Sqrt(Weight));

    /// <summary>Worth something: three pairs or more, and the interval of the mean leaves out zero.</summary>
    public bool Used => Pairs >= StageShift.FewestPairs && (Interval.Lower > 0 || Interval.Upper < 0);

    public IReadOnlyList<string> Sources { get; } =
    [
        "Gelman and others, Bayesian Data Analysis, 3rd edition, 2013, 3.3: normal data with the conjugate prior; intervals and the next piece by Student's t.",
    ];

    public IReadOnlyList<string> Cautions { get; } =
    [
        "Shifts of one shop and kind are taken as alike and independent; another joint, another sequence or another welder may move otherwise.",
        "The scatter of both measurements is part of what was learned.",
    ];

    /// <summary>Where the next piece ends: Student with scale Spread·√(1 + 1/κ) about its value at tack plus the mean shift.</summary>
    /// <param name="atTack">Its value at tack.</param>
    /// <param name="lower">Limit at the later stage, null when open.</param>
    /// <param name="upper">Limit at the later stage, null when open.</param>
    /// <exception cref="InputError">A number that is not finite, reversed limits.</exception>
    public ShiftPrediction Predict(double atTack, double? lower, double? upper)
    {
        Finite.Require(atTack, "atTack");
        if (lower is { } low)
            Finite.Require(low, "lower");
        if (upper is { } high)
            Finite.Require(high, "upper");
        if (lower > upper)
            throw new InputError("lower", $"The limits are reversed: {lower} is above {upper}.");
        var value = atTack + Mean;
        var scale = Spread * Math.Sqrt(1 + (1 / Weight));
        var leaves = (lower is { } l ? Below(l) : 0) + (upper is { } u ? 1 - Below(u) : 0);
        return new ShiftPrediction(
            value,
            Bounds.About(value, Distributions.StudentCoverage(StageShift.Confidence, Degrees) * scale),
            Math.Clamp(leaves, 0, 1),
            value < lower || value > upper);

        double Below(double limit)
        {
            var t = (limit - value) / scale;
            var tail = Distributions.StudentTwoTails(Math.Abs(t), Degrees) / 2;
            return t < 0 ? tail : 1 - tail;
        }
    }
}

/// <summary>The later value of one piece, before it is there.</summary>
/// <param name="Value">Expected.</param>
/// <param name="Interval">It lies in here with 95 %.</param>
/// <param name="LeavesLimits">Probability that it is outside its limits.</param>
/// <param name="Outside">Whether the expected value itself is outside.</param>
public sealed record ShiftPrediction(double Value, Bounds Interval, double LeavesLimits, bool Outside);
