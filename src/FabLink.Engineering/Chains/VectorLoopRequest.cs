namespace FabLink.Engineering.Chains;

/// <summary>A planar vector loop: links laid end to end; what closes is the vector from the start of the first to the end of the
/// last.</summary>
/// <param name="Links">At least one, names all different.</param>
/// <param name="Closing">x, y, length or angle (degrees, counter-clockwise from x) of the closing vector.</param>
/// <param name="Required">What the closing measure must keep, if that is known.</param>
/// <param name="Samples">Monte Carlo samples, 0 for none, at most <see cref="VectorLoopCalculation.MostSamples"/>.</param>
/// <param name="Seed">Same seed, same answer.</param>
/// <param name="Inflation">Factor of the inflated root sum square.</param>
/// <param name="LengthUnit">Named in the answer; all lengths share it.</param>
/// <param name="Unknowns">None, or two that are solved so that the loop closes on itself; then there is no other closing measure.</param>
public sealed record VectorLoopRequest(
    IReadOnlyList<VectorLink> Links,
    string Closing = "length",
    RequiredLimits? Required = null,
    int Samples = 100_000,
    long Seed = 1,
    double Inflation = 1.5,
    string LengthUnit = "mm",
    IReadOnlyList<UnknownValue>? Unknowns = null);

/// <summary>
/// A length or a direction that the loop itself determines. A loop with two unknowns closes on itself; they are solved for, and what is required
/// is required of the first. Their nominals say where to look for the solution.
/// </summary>
/// <param name="Link">Name of its link.</param>
/// <param name="Field">length or direction.</param>
public sealed record UnknownValue(string Link, string Field);

/// <summary>One link as a vector.</summary>
/// <param name="Name">Different from the others.</param>
/// <param name="Length">Not negative; exact, toleranced or measured.</param>
/// <param name="Direction">Degrees, counter-clockwise; from the x axis, or, when <paramref name="Relative"/>, from the direction of the link before.</param>
/// <param name="Relative">Whether the direction turns with the link before; the first link's is always taken from the x axis.</param>
public sealed record VectorLink(string Name, TolerancedValue? Length, TolerancedValue? Direction, bool Relative = false);
