namespace FabLink.Engineering.Chains;

/// <summary>A signed linear chain: closing dimension = Σ sensitivity × link.</summary>
/// <param name="Links">At least one, names all different.</param>
/// <param name="Required">What the closing dimension must keep, if that is known.</param>
/// <param name="Samples">Monte Carlo samples, 0 for none, at most <see cref="ChainCalculation.MostSamples"/>.</param>
/// <param name="Seed">Same seed, same answer.</param>
/// <param name="Inflation">Factor of the inflated root sum square.</param>
public sealed record ChainRequest(
    IReadOnlyList<ChainLink> Links,
    RequiredLimits? Required = null,
    int Samples = 100_000,
    long Seed = 1,
    double Inflation = 1.5);
