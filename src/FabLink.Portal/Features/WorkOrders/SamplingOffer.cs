using FabLink.Engineering.Sampling;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>A plan for a lot of that many pieces, with what it lets through.</summary>
/// <param name="Key">Names it in the form.</param>
/// <param name="Accepted">For a number of bad pieces in the lot: the probability that the lot is accepted all the same.</param>
public sealed record SamplingOffer(
    string Key, string Method, string Words, int SampleSize, int Accept, IReadOnlyList<(int Bad, double Probability)> Accepted)
{
    public const string ZeroAcceptancePlan = "zero acceptance";
    public const string Iso2859 = "ISO 2859-1";

    private static readonly double[] Shares = [0.05, 0.10, 0.20];
    private static readonly decimal[] Limits = [1.0m, 2.5m, 4.0m];

    /// <summary>What the library holds for this lot and spares at least one piece; nothing for a single piece.</summary>
    public static IReadOnlyList<SamplingOffer> For(int lot)
    {
        if (lot < 2)
            return [];
        var zero = from share in Shares
                   let plan = Engineering.Sampling.ZeroAcceptance.Find(lot, share)
                   select Of($"zero-{share * 100:0}", ZeroAcceptancePlan, $"zero acceptance, a lot with {share:0 %} bad pieces passes with at most 10 %", lot, plan.SampleSize, 0);
        var standard = from level in new[] { "I", "II" }
                       from limit in Limits
                       let plan = SamplingPlans.Find(lot, level, limit)
                       select Of($"iso-{level}-{limit}", Iso2859, $"ISO 2859-1 single, normal, level {level}, AQL {limit} %", lot, plan.SampleSize, plan.Accept);
        return [.. zero.Concat(standard).Where(offer => offer.SampleSize < lot)];
    }

    private static SamplingOffer Of(string key, string method, string words, int lot, int sampleSize, int accept) =>
        new(key, method, words, sampleSize, accept, [.. BadPieces(lot).Select(bad => (bad, OperatingCurve.Hypergeometric(lot, bad, sampleSize, accept)))]);

    private static IEnumerable<int> BadPieces(int lot) =>
        new[] { 1, 2, (int)Math.Ceiling(lot * 0.05), (int)Math.Ceiling(lot * 0.10), (int)Math.Ceiling(lot * 0.20) }.Where(bad => bad <= lot).Distinct().Order();
}
