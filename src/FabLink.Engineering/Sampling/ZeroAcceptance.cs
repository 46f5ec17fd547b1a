using FabLink.Engineering.Judging;

namespace FabLink.Engineering.Sampling;

/// <param name="SampleSize">Inspect so many; accept the lot only if all conform.</param>
/// <param name="Nonconforming">The smallest number of nonconforming pieces that counts as a bad lot.</param>
/// <param name="Risk">The exact probability that such a lot is accepted all the same.</param>
/// <param name="Sources">Formula.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record ZeroAcceptancePlan(
    int SampleSize,
    int Nonconforming,
    double Risk,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>Plans that accept with no nonconforming piece found, for small lots: the smallest sample for a stated risk, exactly.</summary>
public static class ZeroAcceptance
{
    /// <param name="lot">N, 1 or more.</param>
    /// <param name="limitingFraction">From which fraction nonconforming on a lot is bad, above 0 to 1.</param>
    /// <param name="risk">Largest probability to accept a bad lot, above 0 and below 1.</param>
    /// <param name="importance">Critical characteristics are never sampled.</param>
    /// <exception cref="InputError">Out of those ranges.</exception>
    public static ZeroAcceptancePlan Find(int lot, double limitingFraction, double risk = 0.10, Importance importance = Importance.Minor)
    {
        Sampled.Require(importance);
        if (lot is < 1 or > 1_000_000)
            throw new InputError("lot", $"A lot has 1 to 1000000 pieces, not {lot}.");
        if (!(limitingFraction is > 0 and <= 1))
            throw new InputError("limitingFraction", $"A limiting fraction lies above 0 and up to 1, not {limitingFraction}.");
        if (!(risk is > 0 and < 1))
            throw new InputError("risk", $"A risk lies above 0 and below 1, not {risk}.");
        // A fraction like 0.07 of 100 is 7 pieces, not the 8 that its binary rounding would give.
        var nonconforming = Math.Max(1, (int)Math.Ceiling(limitingFraction * lot - 1e-9));

        // P(none found) = Π (N − D − i)/(N − i), i = 0 … n − 1, falls with every further piece.
        var (sample, accepted) = (0, 1.0);
        while (accepted > risk)
        {
            accepted *= (double)(lot - nonconforming - sample) / (lot - sample);
            sample++;
        }

        return new ZeroAcceptancePlan(
            sample,
            nonconforming,
            accepted,
            ["hypergeometric distribution, exact: P(0) = Π (N − D − i)/(N − i)"],
            [
                $"A lot with {nonconforming - 1} nonconforming or fewer is not meant to be caught.",
                .. sample == lot ? ["Every piece of the lot is inspected."] : Array.Empty<string>(),
            ]);
    }
}
