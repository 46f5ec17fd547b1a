namespace FabLink.Engineering.BoltUp;

/// <summary>The answer of the calculation <c>bolt-up</c>: lengths in the unit asked, clearances and margin radial.</summary>
public sealed record BoltUpAnswer(
    string Unit,
    bool BoltsUp,
    double Margin,
    double UpperBound,
    Move Move,
    IReadOnlyList<string> Limiting,
    IReadOnlyList<HoleAnswer> Holes,
    IReadOnlyList<string> Obstructed,
    Certificate Certificate,
    ProbabilityEstimate? Probability,
    double WantedMargin,
    IReadOnlyList<AdviceAnswer> Advice,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>Clearance left under the move and the allowance it is left of.</summary>
public sealed record HoleAnswer(string Name, double ClearanceLeft, double Allowance);

/// <summary>One verified advice.</summary>
/// <param name="Kind">move-detail, open-holes, slot-holes, open-all or drill-to-mate.</param>
/// <param name="Text">The same as one sentence for the bench.</param>
/// <param name="Move">For move-detail only.</param>
/// <param name="Holes">What the named holes become; empty for move-detail.</param>
/// <param name="Margin">Margin with the advice applied, from running the check again.</param>
public sealed record AdviceAnswer(string Kind, string Text, DetailMoveAnswer? Move, IReadOnlyList<HoleChangeAnswer> Holes, double Margin);

/// <summary>Turn the detail about one of its holes, then shift it, in the axes of its part (side a or b).</summary>
public sealed record DetailMoveAnswer(string Detail, string Side, string About, double ShiftX, double ShiftY, double TurnDegrees);

/// <summary>Centre, diameter and slot that the hole gets.</summary>
public sealed record HoleChangeAnswer(string Name, string Side, double X, double Y, double Diameter, Slot? Slot);
