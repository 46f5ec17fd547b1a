namespace FabLink.Engineering.BoltUp;

/// <summary>Where part b goes: a ≈ R(θ)·b + (x, y), θ counter-clockwise about the origin of b's coordinates.</summary>
public sealed record Move(double X, double Y, double RotationDegrees);

/// <summary>Radial play that is left to one fastener after the move; negative where it does not pass.</summary>
public sealed record HoleClearance(string Name, double ClearanceLeft);

/// <summary>One weighted direction of a proof: a unit vector (or zero) in the axes of the part it is held to.</summary>
public sealed record ProofTerm(string Hole, double Weight, double X, double Y);

/// <summary>
/// One stretch of rotation, radian, and why no move on it leaves more than <paramref name="MarginAtMost"/>.
/// </summary>
/// <param name="HeldTo">"a": the directions are fixed in part a. "b": they turn with part b.</param>
public sealed record ProofInterval(double From, double To, string HeldTo, IReadOnlyList<ProofTerm> Terms, double MarginAtMost);

/// <summary>Intervals that abut from −limit to +limit; the largest of their bounds is the upper bound.</summary>
public sealed record Certificate(IReadOnlyList<ProofInterval> Intervals);

/// <summary>The certified answer. Lengths in mm, radial.</summary>
/// <param name="BoltsUp">Every fastener passes: margin ≥ 0 (to 1e-9 mm) and no hole is obstructed.</param>
/// <param name="Margin">Smallest clearance left under <paramref name="Move"/>.</param>
/// <param name="UpperBound">No move leaves more than this.</param>
/// <param name="Limiting">Holes whose clearance is the margin (to 1e-5 mm).</param>
/// <param name="Obstructed">Holes that do not let their own fastener through, whatever the positions.</param>
public sealed record JointSolution(
    bool BoltsUp,
    double Margin,
    double UpperBound,
    Move Move,
    IReadOnlyList<string> Limiting,
    IReadOnlyList<HoleClearance> Holes,
    IReadOnlyList<string> Obstructed,
    Certificate Certificate);
