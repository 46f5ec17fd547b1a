namespace FabLink.Engineering.Chains;

/// <summary>The closing measure of a planar vector loop.</summary>
/// <param name="Closing">x, y, length or angle.</param>
/// <param name="Unit">Of every closing value: the length unit, or ° for an angle.</param>
/// <param name="Nominal">All links as drawn.</param>
/// <param name="Expected">Measured values where there are some, else the middle of the limits; solved exactly.</param>
/// <param name="State">as drawn, as built so far, or as built.</param>
/// <param name="WorstCase">To first order: sum of |sensitivity| × half tolerance.</param>
/// <param name="WorstCaseCorners">Exact closing measure over all combinations of limits.</param>
/// <param name="WorstCaseInside">Least and greatest found when values between the limits are tried as well; wider than the corners
/// where a link passes through the direction that matters most.</param>
/// <param name="RootSumSquare">Expected ± root of the sum of squared half tolerances, to first order.</param>
/// <param name="InflatedRootSumSquare">The same, half width times <paramref name="Inflation"/>.</param>
/// <param name="Inflation">As understood.</param>
/// <param name="Required">As understood.</param>
/// <param name="WorstCaseCloses">Whether <paramref name="WorstCaseInside"/> keeps what is required.</param>
/// <param name="MonteCarlo">Every sample solved exactly; null when none were asked for.</param>
/// <param name="Contributions">One for each length and direction that is not exact; sensitivities per unit of length or per degree.</param>
/// <param name="Room">What each that is not measured may be so that the loop closes.</param>
/// <param name="Joints">Ends of the links at the expected values, from (0, 0), for drawing.</param>
/// <param name="Sources">Formulas and where they come from.</param>
/// <param name="Cautions">What the person should know before using the figures.</param>
public sealed record VectorLoopAnswer(
    string Closing,
    string Unit,
    double Nominal,
    double Expected,
    string State,
    Bounds WorstCase,
    Bounds WorstCaseCorners,
    Bounds WorstCaseInside,
    Bounds RootSumSquare,
    Bounds InflatedRootSumSquare,
    double Inflation,
    RequiredLimits? Required,
    bool? WorstCaseCloses,
    MonteCarloAnswer? MonteCarlo,
    IReadOnlyList<Contribution> Contributions,
    IReadOnlyList<LinkRoom> Room,
    IReadOnlyList<double[]> Joints,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions)
{
    /// <summary>Both unknowns of a loop that closes on itself, the first with what is said above; empty without unknowns.</summary>
    public IReadOnlyList<SolvedUnknown> Unknowns { get; init; } = [];
}

/// <param name="Name">Link and field.</param>
/// <param name="Unit">The length unit, or °.</param>
/// <param name="Nominal">All links as drawn.</param>
/// <param name="Expected">Measured values where there are some, else the middle of the limits.</param>
/// <param name="WorstCase">To first order.</param>
/// <param name="RootSumSquare">To first order.</param>
/// <param name="Sensitivities">Of the unknown by each value that is not exact.</param>
public sealed record SolvedUnknown(
    string Name, string Unit, double Nominal, double Expected, Bounds WorstCase, Bounds RootSumSquare, IReadOnlyList<UnknownSensitivity> Sensitivities);

/// <param name="Name">Link and field.</param>
/// <param name="Sensitivity">Per unit of length or per degree.</param>
public sealed record UnknownSensitivity(string Name, double Sensitivity);
