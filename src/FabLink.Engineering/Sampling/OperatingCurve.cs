namespace FabLink.Engineering.Sampling;

/// <summary>A plan and the quality to look at it with.</summary>
/// <param name="SampleSize">n.</param>
/// <param name="Accept">c: accept with at most so many nonconforming.</param>
public sealed record OperatingCurveQuestion(int SampleSize, int Accept)
{
    /// <summary>N: the exact answer for one lot; with <see cref="Nonconforming"/> or <see cref="Fraction"/>.</summary>
    public int? Lot { get; init; }

    /// <summary>D in the lot.</summary>
    public int? Nonconforming { get; init; }

    /// <summary>p, 0 to 1: of the process when there is no lot.</summary>
    public double? Fraction { get; init; }
}

/// <param name="AcceptanceProbability">That the plan accepts.</param>
/// <param name="Distribution">hypergeometric for a lot, binomial for a process.</param>
/// <param name="AverageOutgoingQuality">Fraction nonconforming after rejected lots are sorted and made good.</param>
/// <param name="Sources">Formulas.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record OperatingCurveAnswer(
    double AcceptanceProbability,
    string Distribution,
    double AverageOutgoingQuality,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>How likely a plan accepts: exact, hypergeometric from a lot and binomial from a process.</summary>
public static class OperatingCurve
{
    private const int Most = 10_000_000;

    /// <exception cref="InputError">A plan or quality that cannot be; the field is named.</exception>
    public static OperatingCurveAnswer Calculate(OperatingCurveQuestion question)
    {
        if (question.Lot is { } lot)
        {
            var nonconforming = NonconformingOf(question, lot);
            var inLot = Hypergeometric(lot, nonconforming, question.SampleSize, question.Accept);
            var quality = (double)nonconforming / lot;
            return new OperatingCurveAnswer(
                inLot, "hypergeometric", inLot * quality * (lot - question.SampleSize) / lot,
                ["hypergeometric distribution, exact for a sample without replacement from one lot"],
                ["Takes the sample as random: every piece of the lot had the same chance."]);
        }

        if (question.Nonconforming is not null)
            throw new InputError("lot", "A number of nonconforming pieces needs the lot they are in.");
        var fraction = question.Fraction ?? throw new InputError("fraction", "Give a fraction nonconforming, or a lot with its nonconforming pieces.");
        var accepted = Binomial(fraction, question.SampleSize, question.Accept);
        return new OperatingCurveAnswer(
            accepted, "binomial", accepted * fraction,
            ["binomial distribution, exact for a sample from a steady process (or a very large lot)"],
            ["For a sample of more than a tenth of a lot give the lot: the binomial is then too pessimistic about small numbers."]);
    }

    /// <summary>P(at most <paramref name="accept"/> nonconforming in the sample) from a lot.</summary>
    public static double Hypergeometric(int lot, int nonconforming, int sampleSize, int accept)
    {
        Check(sampleSize, accept);
        if (lot < 1 || lot > Most)
            throw new InputError("lot", $"A lot has 1 to {Most} pieces, not {lot}.");
        if (sampleSize > lot)
            throw new InputError("sampleSize", $"A sample of {sampleSize} is larger than the lot of {lot}.");
        if (nonconforming < 0 || nonconforming > lot)
            throw new InputError("nonconforming", $"Nonconforming pieces are 0 to {lot}, not {nonconforming}.");
        var least = Math.Max(0, sampleSize - (lot - nonconforming));
        var most = Math.Min(sampleSize, nonconforming);
        var mode = (int)((sampleSize + 1.0) * (nonconforming + 1.0) / (lot + 2.0));
        return Cumulative(accept, least, most, mode,
            k => (double)(nonconforming - k) * (sampleSize - k) / ((k + 1.0) * (lot - nonconforming - sampleSize + k + 1.0)));
    }

    /// <summary>P(at most <paramref name="accept"/> nonconforming in the sample) from a process.</summary>
    public static double Binomial(double fraction, int sampleSize, int accept)
    {
        Check(sampleSize, accept);
        if (!(fraction is >= 0 and <= 1))
            throw new InputError("fraction", $"A fraction is 0 to 1, not {fraction}.");
        if (fraction == 0 || accept >= sampleSize)
            return 1;
        if (fraction == 1)
            return 0;
        var odds = fraction / (1 - fraction);
        return Cumulative(accept, 0, sampleSize, (int)((sampleSize + 1.0) * fraction), k => (sampleSize - k) / (k + 1.0) * odds);
    }

    /// <summary>The fraction of a process that the plan accepts with that probability: AQL at 0.95, limiting quality at 0.10.</summary>
    public static double FractionAccepted(double probability, int sampleSize, int accept)
    {
        Check(sampleSize, accept);
        if (!(probability is > 0 and < 1))
            throw new InputError("probability", $"A probability lies above 0 and below 1, not {probability}.");
        if (accept >= sampleSize)
            throw new InputError("accept", "A plan that accepts its whole sample accepts everything.");
        var (good, bad) = (0.0, 1.0);
        for (var i = 0; i < 200 && bad - good > 1e-16 * bad; i++)
        {
            var middle = (good + bad) / 2;
            if (Binomial(middle, sampleSize, accept) >= probability)
                good = middle;
            else
                bad = middle;
        }

        return good;
    }

    // Every term relative to the one at the mode, by the ratio of neighbours; the sum of all terms then stands for 1.
    // No factorial, no logarithm, nothing that overflows, and only positive terms are added.
    private static double Cumulative(int accept, int least, int most, int mode, Func<int, double> ratio)
    {
        if (accept < least)
            return 0;
        if (accept >= most)
            return 1;
        mode = Math.Clamp(mode, least, most);
        var (inside, outside) = (0.0, 0.0);
        var term = 1.0;
        for (var k = mode; k <= most && term > 0; k++)
        {
            if (k <= accept)
                inside += term;
            else
                outside += term;
            if (k < most)
                term *= ratio(k);
        }

        term = 1.0;
        for (var k = mode - 1; k >= least && term > 0; k--)
        {
            term /= ratio(k);
            if (k <= accept)
                inside += term;
            else
                outside += term;
        }

        return inside / (inside + outside);
    }

    private static int NonconformingOf(OperatingCurveQuestion question, int lot)
    {
        if (question.Nonconforming is { } given)
        {
            return question.Fraction is null
                ? given
                : throw new InputError("fraction", "Give the nonconforming pieces or their fraction, not both.");
        }

        var fraction = question.Fraction ?? throw new InputError("nonconforming", "A lot needs its number of nonconforming pieces.");
        if (!(fraction is >= 0 and <= 1))
            throw new InputError("fraction", $"A fraction is 0 to 1, not {fraction}.");
        var pieces = fraction * lot;
        return Math.Abs(pieces - Math.Round(pieces)) < 1e-9
            ? (int)Math.Round(pieces)
            : throw new InputError("fraction", $"{fraction} of a lot of {lot} is {pieces} pieces; give a whole number of nonconforming pieces.");
    }

    private static void Check(int sampleSize, int accept)
    {
        if (sampleSize < 1 || sampleSize > Most)
            throw new InputError("sampleSize", $"A sample has 1 to {Most} pieces, not {sampleSize}.");
        if (accept < 0)
            throw new InputError("accept", $"An acceptance number is not negative: {accept}.");
    }
}
