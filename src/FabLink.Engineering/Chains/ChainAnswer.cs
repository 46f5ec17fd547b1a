namespace FabLink.Engineering.Chains;

/// <summary>The closing dimension of a linear chain.</summary>
/// <param name="Nominal">All links as drawn.</param>
/// <param name="Expected">Links that are measured at their measured value, the others at the middle of their limits.</param>
/// <param name="State">as drawn, as built so far, or as built.</param>
/// <param name="WorstCase">All links at their limits at once.</param>
/// <param name="RootSumSquare">Expected ± root of the sum of squared half tolerances.</param>
/// <param name="InflatedRootSumSquare">The same, half width times <paramref name="Inflation"/>.</param>
/// <param name="Inflation">As understood.</param>
/// <param name="Required">As understood.</param>
/// <param name="WorstCaseCloses">Whether every combination within the limits keeps what is required.</param>
/// <param name="MonteCarlo">Null when no samples were asked for.</param>
/// <param name="Contributions">In the order of the links.</param>
/// <param name="Room">What each link that is not measured may take so that the chain closes.</param>
/// <param name="Sources">Formulas and where they come from.</param>
/// <param name="Cautions">What the person should know before using the figures.</param>
public sealed record ChainAnswer(
    double Nominal,
    double Expected,
    string State,
    Bounds WorstCase,
    Bounds RootSumSquare,
    Bounds InflatedRootSumSquare,
    double Inflation,
    RequiredLimits? Required,
    bool? WorstCaseCloses,
    MonteCarloAnswer? MonteCarlo,
    IReadOnlyList<Contribution> Contributions,
    IReadOnlyList<LinkRoom> Room,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>How much of the spread one link brings.</summary>
/// <param name="Name">The link.</param>
/// <param name="Sensitivity">Change of the closing dimension per unit of the link (per degree for a direction).</param>
/// <param name="Half">Half of the width that the link adds to the worst case, in the closing unit.</param>
/// <param name="WorstCaseShare">Part of the worst case width, 0 to 1.</param>
/// <param name="VarianceShare">Part of the variance, 0 to 1.</param>
public sealed record Contribution(string Name, double Sensitivity, double Half, double WorstCaseShare, double VarianceShare);

/// <summary>What a link that is still to be made may be, so that the chain closes; values, not deviations.</summary>
/// <param name="Name">The link.</param>
/// <param name="WorstCase">Closes whatever the other links are within their limits; null when no value does.</param>
/// <param name="WorstCaseShortfall">By how much, in the closing unit, the other links already use more than is required; 0 when they do not.</param>
/// <param name="RootSumSquare">Aim and tolerance with which the root sum square just fits the required width; null when the
/// other links already use it up or the requirement has one side only.</param>
public sealed record LinkRoom(string Name, RequiredLimits? WorstCase, double WorstCaseShortfall, Bounds? RootSumSquare);

/// <summary>Simulated closing dimension.</summary>
/// <param name="Yield">Part of the samples that keep what is required; null when nothing is required.</param>
/// <param name="YieldInterval">Lower and upper confidence limit of the yield.</param>
/// <param name="YieldConfidence">Confidence of that interval.</param>
/// <param name="YieldIntervalMethod">Its name.</param>
/// <param name="Mean">Of the samples.</param>
/// <param name="StandardDeviation">Of the samples.</param>
/// <param name="Minimum">Of the samples.</param>
/// <param name="Maximum">Of the samples.</param>
/// <param name="Samples">How many.</param>
/// <param name="Seed">As given.</param>
public sealed record MonteCarloAnswer(
    double? Yield,
    IReadOnlyList<double>? YieldInterval,
    double YieldConfidence,
    string YieldIntervalMethod,
    double Mean,
    double StandardDeviation,
    double Minimum,
    double Maximum,
    int Samples,
    long Seed);
