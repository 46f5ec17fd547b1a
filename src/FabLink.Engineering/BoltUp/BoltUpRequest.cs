namespace FabLink.Engineering.BoltUp;

/// <summary>
/// What is asked of the calculation <c>bolt-up</c>. Lengths in <see cref="Unit"/>, angles in degrees; a missing number is
/// an error where it is needed.
/// </summary>
public sealed record BoltUpRequest
{
    /// <summary>mm or in.</summary>
    public string? Unit { get; init; }

    public IReadOnlyList<BoltUpHole?>? Holes { get; init; }

    public BoltUpFilm? Film { get; init; }

    /// <summary>Largest permitted rotation either way; 180, the whole circle, unless stated.</summary>
    public double? RotationLimitDegrees { get; init; }

    /// <summary>Margin below which advice is given; 0.1 mm unless stated.</summary>
    public double? WantedMargin { get; init; }

    /// <summary>Part whose holes may be opened, a or b; b unless stated.</summary>
    public string? Adjust { get; init; }

    /// <summary>Asks for the probability; needs an uncertainty or a tolerance on at least one hole.</summary>
    public int? Samples { get; init; }

    /// <summary>Seed of the samples; 1 unless stated, and always answered.</summary>
    public long? Seed { get; init; }
}

/// <summary>Coating thickness per surface of each part.</summary>
public sealed record BoltUpFilm
{
    public double? A { get; init; }

    public double? B { get; init; }
}

/// <summary>One fastener: its name, its size and its hole in both parts.</summary>
public sealed record BoltUpHole
{
    public string? Name { get; init; }

    public BoltUpSide? A { get; init; }

    public BoltUpSide? B { get; init; }

    public double? Fastener { get; init; }

    /// <summary>floating, or stud (also a tapped hole) when the fastener is fixed in part a.</summary>
    public string? Kind { get; init; }
}

/// <summary>The hole of one part.</summary>
public sealed record BoltUpSide
{
    public double? X { get; init; }

    public double? Y { get; init; }

    /// <summary>Bare diameter or width of the slot; not needed on a stud's own side.</summary>
    public double? Diameter { get; init; }

    public BoltUpSlot? Slot { get; init; }

    public bool? Masked { get; init; }

    /// <summary>Expanded uncertainty (k = 2) of each coordinate.</summary>
    public double? Uncertainty { get; init; }

    /// <summary>Diametral position tolerance of the drawing, before the hole is measured.</summary>
    public double? PositionTolerance { get; init; }

    /// <summary>Lower and upper deviation that the drawing lets each coordinate have, before it is measured.</summary>
    public double? XLower { get; init; }

    public double? XUpper { get; init; }

    public double? YLower { get; init; }

    public double? YUpper { get; init; }

    public double? DiameterLower { get; init; }

    public double? DiameterUpper { get; init; }

    /// <summary>The pad, tab or bracket that carries the hole.</summary>
    public string? Detail { get; init; }

    /// <summary>False when the hole is not drilled yet.</summary>
    public bool? Drilled { get; init; }
}

/// <summary>Distance between the end centres and direction of the long axis.</summary>
public sealed record BoltUpSlot
{
    public double? Travel { get; init; }

    public double? AngleDegrees { get; init; }

    /// <summary>
    /// Lower and upper deviation that the drawing lets the length over the ends have; where one is stated, travel is length less width, so a wider slot
    /// travels less. Without, the travel is exact.
    /// </summary>
    public double? LengthLower { get; init; }

    public double? LengthUpper { get; init; }

    /// <summary>Lower and upper deviation of the direction, degrees.</summary>
    public double? DirectionLower { get; init; }

    public double? DirectionUpper { get; init; }
}
