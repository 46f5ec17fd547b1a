using FabLink.Engineering.BoltUp;

namespace FabLink.Portal.Features.Joints;

/// <summary>How a joint stands: kept as it was found, so that every page shows the same. Lengths in mm, radial where they are clearances.</summary>
/// <param name="Form">as drawn, as built so far, as built.</param>
/// <param name="Verdict">bolts up, does not bolt up, not known.</param>
/// <param name="Why">When it is not known: what is missing, as sentences.</param>
/// <param name="Obstructed">Holes that do not let their own fastener through, with their side: <c>3 of the mate</c>.</param>
/// <param name="Drawn">The same joint with nothing measured but a survey.</param>
/// <param name="Measured">Holes of the parts that are measured whole, of <paramref name="MeasuredOf"/>; a survey is not counted.</param>
/// <param name="Failed">Dimensions of the holes that leave their own limits.</param>
public sealed record JointFinding(
    string Form,
    string Verdict,
    string Why,
    double? Margin,
    double? UpperBound,
    double Wanted,
    Move? Move,
    IReadOnlyList<string> Limiting,
    IReadOnlyList<string> Obstructed,
    int Measured,
    int MeasuredOf,
    IReadOnlyList<JointHoleState> Holes,
    ProbabilityEstimate? Probability,
    JointDrawn? Drawn,
    IReadOnlyList<FailedDimension> Failed,
    IReadOnlyList<AdviceAnswer> Advice,
    IReadOnlyList<string> Cautions)
{
    /// <summary>mm or in: what the part's drawing is in. The lengths here are mm all the same.</summary>
    public string Unit { get; init; } = "mm";

    /// <summary>It is off by more than half of the way to the next hole: names are swapped, or this is another part.</summary>
    public bool IsOfAnotherPart { get; init; }

    /// <summary>For each advice the balloons that it takes outside their own limits.</summary>
    public IReadOnlyList<IReadOnlyList<string>> AdviceBreaks { get; init; } = [];

    /// <summary>For each advice the balloons that it leaves inside their limits, and nearer to one than their uncertainty can prove.</summary>
    public IReadOnlyList<IReadOnlyList<string>> AdviceUnproven { get; init; } = [];

    /// <summary>The part is past its tacks.</summary>
    public bool Welded { get; init; }

    /// <summary>It may stand off, and its own hole lets it through.</summary>
    public bool Passes(JointHoleState hole) => hole.ClearanceLeft >= 0 && !Obstructed.Any(one => one == hole.Name || one.StartsWith(hole.Name + " of the ", StringComparison.Ordinal));

    public bool Tight => Verdict == "bolts up" && Margin < Wanted;
}

/// <summary>As drawn: the nominal positions, and whether whatever is made within the drawings bolts up.</summary>
/// <param name="WorstCase">Margin that is left in the worst case; null when a hole may be too small.</param>
public sealed record JointDrawn(bool BoltsUp, double Margin, double? WorstCase, ProbabilityEstimate? Probability);

/// <summary>One fastener: both holes as they count now, after the best move.</summary>
/// <param name="Side">Which solver's side the part is on; the mate is the other.</param>
/// <param name="Part">The part's hole; coordinates of the part.</param>
public sealed record JointHoleState(
    string Name, HoleNow Part, HoleNow Mate, double Fastener, double Allowance, double ClearanceLeft, double ShiftX, double ShiftY, bool Limiting);

/// <param name="Measured">Position (and diameter, where there is one) measured, not drawn.</param>
public sealed record HoleNow(double X, double Y, double? Diameter, double SlotTravel, double SlotDegrees, string? Detail, bool Measured, double DrawnX, double DrawnY);

/// <param name="Side">part or mate.</param>
/// <param name="Value">In mm or degrees.</param>
/// <param name="Matters">False when the joint bolts up with the wanted margin all the same.</param>
public sealed record FailedDimension(string Side, string Hole, string Balloon, double Value, bool Matters)
{
    public bool IsAngle { get; init; }
}
