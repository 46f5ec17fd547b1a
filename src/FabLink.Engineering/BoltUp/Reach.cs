namespace FabLink.Engineering.BoltUp;

/// <summary>
/// What an angle error does at a distance, and backwards. Tangent: the far end slides along a straight edge. Sine: square
/// to where it should point. Chord: straight from where the end should be to where it is.
/// </summary>
public static class Reach
{
    public static double OffsetTangent(double angleDegrees, double reach) => reach * Math.Tan(Radians(angleDegrees));

    public static double OffsetSine(double angleDegrees, double reach) => reach * Math.Sin(Radians(angleDegrees));

    public static double Chord(double angleDegrees, double reach) => 2 * reach * Math.Sin(Radians(angleDegrees) / 2);

    public static double AngleOfTangent(double offset, double reach) => Degrees(Math.Atan(offset / reach));

    public static double AngleOfSine(double offset, double reach) => Degrees(Math.Asin(offset / reach));

    public static double AngleOfChord(double offset, double reach) => Degrees(2 * Math.Asin(offset / (2 * reach)));

    private static double Radians(double degrees) => degrees * (Math.PI / 180);

    private static double Degrees(double radians) => radians * (180 / Math.PI);
}

/// <summary>What is asked of the calculation <c>reach</c>: the reach, and either the angle or the offset.</summary>
public sealed record ReachRequest
{
    public double? AngleDegrees { get; init; }

    /// <summary>Asks backwards: which angle makes this offset.</summary>
    public double? Offset { get; init; }

    public double? Reach { get; init; }

    /// <summary>mm or in; the answer is in the same.</summary>
    public string? Unit { get; init; }
}

/// <summary>The answer of <c>reach</c>. Asked backwards, the three angles are of the three forms and the offsets are of the tangent one.</summary>
/// <param name="PositionEquivalent">Diametral position deviation of the far end: twice the tangent offset.</param>
/// <param name="AngleSineDegrees">Null unless asked backwards.</param>
/// <param name="AngleChordDegrees">Null unless asked backwards.</param>
public sealed record ReachAnswer(
    double AngleDegrees,
    double Reach,
    string Unit,
    double OffsetTangent,
    double OffsetSine,
    double Chord,
    double PositionEquivalent,
    double? AngleSineDegrees,
    double? AngleChordDegrees,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>The calculation <c>reach</c>.</summary>
public static class ReachCalculation
{
    private static readonly string[] Sources =
    [
        "Plane trigonometry: offset = reach·tan α, reach·sin α, chord 2·reach·sin(α/2).",
        "Position equivalent: diametral, twice the offset (ASME Y14.5-2018, position).",
    ];

    private static readonly string[] Cautions =
    [
        "One angle error in one plane; errors of the pivot and of the reach come on top.",
    ];

    /// <summary>Throws <see cref="InputError"/> for angles of 90° and more, a reach that is not positive, or both or none of angle and offset.</summary>
    public static ReachAnswer Answer(ReachRequest request)
    {
        var unit = Units.Millimetres(request.Unit, "unit") == 1 ? "mm" : "in";
        var reach = Finite.RequirePositive(request.Reach ?? throw new InputError("reach", "reach is missing."), "reach");
        if (request.AngleDegrees is not null && request.Offset is not null)
            throw new InputError("offset", "Give the angle or the offset, not both.");
        if (request.Offset is not { } offset)
        {
            var angle = Finite.Require(request.AngleDegrees ?? throw new InputError("angleDegrees", "Give the angle or the offset."), "angleDegrees");
            return Math.Abs(angle) < 90
                ? Forward(angle, reach, unit, null, null)
                : throw new InputError("angleDegrees", "The angle error must be below 90 degrees either way.");
        }

        Finite.Require(offset, "offset");
        if (Math.Abs(offset) > reach)
            throw new InputError("offset", "The offset cannot be larger than the reach.");
        return Forward(
            BoltUp.Reach.AngleOfTangent(offset, reach), reach, unit, BoltUp.Reach.AngleOfSine(offset, reach), BoltUp.Reach.AngleOfChord(offset, reach));
    }

    private static ReachAnswer Forward(double angle, double reach, string unit, double? sine, double? chord)
    {
        var offset = BoltUp.Reach.OffsetTangent(angle, reach);
        return new ReachAnswer(
            angle,
            reach,
            unit,
            offset,
            BoltUp.Reach.OffsetSine(angle, reach),
            BoltUp.Reach.Chord(angle, reach),
            2 * offset,
            sine,
            chord,
            Sources,
            Cautions);
    }
}
