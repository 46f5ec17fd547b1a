namespace FabLink.Engineering.BoltUp;

/// <summary>How the fastener sits: free in two clearance holes, or fixed in part a (stud, tapped hole).</summary>
public enum FastenerKind
{
    Floating,
    Stud,
}

/// <summary>Which of the two mating parts.</summary>
public enum JointSide
{
    A,
    B,
}

/// <summary>A slot: a hole whose centre may lie anywhere on a line.</summary>
/// <param name="Travel">Distance between the two end centres, mm: overall length less width. Film does not change it.</param>
/// <param name="AngleDegrees">Direction of the long axis in the coordinates of its own part, counter-clockwise from x.</param>
public sealed record Slot(double Travel, double AngleDegrees);

/// <summary>One hole in one of the two parts. Lengths in mm, in the coordinates of that part.</summary>
/// <param name="X">Centre of the hole, or middle of the slot.</param>
/// <param name="Y">Centre of the hole, or middle of the slot.</param>
/// <param name="Diameter">Bare diameter, or width of the slot; not used for the stud's own side.</param>
public sealed record HoleSide(double X, double Y, double Diameter)
{
    public Slot? Slot { get; init; }

    /// <summary>Masked while coating: the film takes nothing from it.</summary>
    public bool Masked { get; init; }

    /// <summary>The pad, tab or bracket that carries this hole; null when it is in the body of the part.</summary>
    public string? Detail { get; init; }

    /// <summary>False while the hole may still be drilled anywhere.</summary>
    public bool Drilled { get; init; } = true;

    /// <summary>What is not known about the hole; null when it is taken as exact.</summary>
    public HoleSpread? Spread { get; init; }
}

/// <summary>What is not known about one hole: how it was measured, or what the drawing lets it do.</summary>
/// <param name="Uncertainty">Expanded uncertainty (k = 2) of each coordinate, mm; normal.</param>
/// <param name="PositionTolerance">Diametral position tolerance, mm; uniform over the disc.</param>
/// <param name="DiameterLower">Lower deviation of the diameter, mm; uniform between the two.</param>
/// <param name="DiameterUpper">Upper deviation of the diameter, mm.</param>
public sealed record HoleSpread(double Uncertainty, double PositionTolerance, double DiameterLower, double DiameterUpper)
{
    /// <summary>Deviations of the coordinates that the drawing lets them have, mm; uniform between the two.</summary>
    public CoordinateSpread X { get; init; }

    /// <inheritdoc cref="X"/>
    public CoordinateSpread Y { get; init; }

    /// <summary>
    /// Deviations of a slot's length over its ends, mm; uniform between the two. Where it is stated the length is what is made, so a wider slot travels
    /// less; null: the travel is exact.
    /// </summary>
    public CoordinateSpread? Length { get; init; }

    /// <summary>Deviations of a slot's direction, degrees; uniform between the two.</summary>
    public CoordinateSpread Direction { get; init; }
}

/// <summary>Lower and upper deviation of one coordinate, mm.</summary>
public readonly record struct CoordinateSpread(double Lower, double Upper)
{
    internal double Largest => Math.Max(Math.Abs(Lower), Math.Abs(Upper));
}

/// <summary>One fastener and the two holes it must pass.</summary>
public sealed record JointHole(string Name, HoleSide A, HoleSide B, double Fastener, FastenerKind Kind);

/// <summary>
/// Two hole patterns that bolt together. Part a stays, part b moves: a ≈ R(θ)·b + (x, y).
/// </summary>
/// <param name="Holes">At least one, names unique.</param>
/// <param name="FilmA">Coating thickness on part a, mm per surface.</param>
/// <param name="FilmB">Coating thickness on part b, mm per surface.</param>
/// <param name="RotationLimitDegrees">Largest |θ| permitted, 0 to 180; 180 is the whole circle.</param>
public sealed record Joint(IReadOnlyList<JointHole> Holes, double FilmA, double FilmB, double RotationLimitDegrees)
{
    /// <summary>Radial play of one fastener between its two holes, mm; negative when it cannot pass.</summary>
    public double Allowance(JointHole hole)
    {
        var inB = (Bare(hole.B, FilmB) - hole.Fastener) / 2;
        return hole.Kind == FastenerKind.Stud ? inB : inB + ((Bare(hole.A, FilmA) - hole.Fastener) / 2);
    }

    /// <summary>True when a clearance hole does not let its own fastener through (D > F after film), whatever the positions.</summary>
    public bool Obstructed(JointHole hole) =>
        Bare(hole.B, FilmB) <= hole.Fastener
        || (hole.Kind == FastenerKind.Floating && Bare(hole.A, FilmA) <= hole.Fastener);

    /// <summary>Diameter that is left after coating: twice the film less, unless masked.</summary>
    internal static double Bare(HoleSide side, double film) => side.Masked ? side.Diameter : side.Diameter - (2 * film);

    /// <summary>Throws <see cref="InputError"/> for what cannot be a joint; returns itself.</summary>
    public Joint Validated()
    {
        if (Holes.Count == 0)
            throw new InputError("holes", "A joint needs at least one hole.");
        Finite.RequireNotNegative(FilmA, "film/a");
        Finite.RequireNotNegative(FilmB, "film/b");
        Finite.RequireNotNegative(RotationLimitDegrees, "rotationLimitDegrees");
        if (RotationLimitDegrees > 180)
            throw new InputError("rotationLimitDegrees", "The rotation limit is 0 to 180 degrees; 180 is the whole circle.");
        var seen = new Dictionary<string, int>(StringComparer.Ordinal);
        for (var i = 0; i < Holes.Count; i++)
        {
            var name = Holes[i].Name;
            if (string.IsNullOrWhiteSpace(name))
                throw new InputError($"holes/{i}/name", $"Hole {i + 1} has no name.");
            if (!seen.TryAdd(name, i))
                throw new InputError($"holes/{i}/name", $"Two holes are named \"{name}\" (rows {seen[name] + 1} and {i + 1}); give each its own name.");
            try
            {
                Validate(Holes[i]);
            }
            catch (InputError error)
            {
                throw error.Within($"holes/{i}");
            }
        }

        return this;
    }

    private static void Validate(JointHole hole)
    {
        RequirePositive(hole, hole.Fastener, "fastener");
        Validate(hole, hole.A, "a", hasDiameter: hole.Kind == FastenerKind.Floating);
        Validate(hole, hole.B, "b", hasDiameter: true);
        if (hole.A.Slot is not null && hole.B.Slot is not null)
            throw new InputError("b/slot", $"Hole \"{hole.Name}\" has a slot in both parts; only one of the two may be a slot.");
        if (hole.Kind == FastenerKind.Stud && hole.A.Slot is not null)
            throw new InputError("a/slot", $"Hole \"{hole.Name}\" has its stud in part a, so part a cannot have a slot there.");
    }

    private static void Validate(JointHole hole, HoleSide side, string path, bool hasDiameter)
    {
        RequireFinite(hole, side.X, $"{path}/x");
        RequireFinite(hole, side.Y, $"{path}/y");
        if (hasDiameter)
            RequirePositive(hole, side.Diameter, $"{path}/diameter");
        if (side.Slot is { } slot)
        {
            RequireNotNegative(hole, slot.Travel, $"{path}/slot/travel");
            RequireFinite(hole, slot.AngleDegrees, $"{path}/slot/angleDegrees");
        }

        if (side.Spread is { } spread)
        {
            RequireNotNegative(hole, spread.Uncertainty, $"{path}/uncertainty");
            RequireNotNegative(hole, spread.PositionTolerance, $"{path}/positionTolerance");
            RequireFinite(hole, spread.DiameterLower, $"{path}/diameterLower");
            RequireFinite(hole, spread.DiameterUpper, $"{path}/diameterUpper");
            foreach (var (field, what, deviations) in new[]
            {
                ("x", "x", spread.X), ("y", "y", spread.Y), ("slot/length", "the slot's length", spread.Length ?? default), ("slot/direction", "the slot's direction", spread.Direction),
            })
            {
                RequireFinite(hole, deviations.Lower, $"{path}/{field}Lower");
                RequireFinite(hole, deviations.Upper, $"{path}/{field}Upper");
                if (deviations.Lower > deviations.Upper)
                    throw new InputError($"{path}/{field}Upper", $"Hole \"{hole.Name}\": the upper deviation of {what} in part {path} is below the lower one.");
            }

            if (spread.DiameterLower > spread.DiameterUpper)
                throw new InputError($"{path}/diameterUpper", $"Hole \"{hole.Name}\": the upper deviation of the diameter in part {path} is below the lower one.");
        }
    }

    private static void RequireFinite(JointHole hole, double value, string field)
    {
        if (!double.IsFinite(value))
            throw new InputError(field, $"Hole \"{hole.Name}\": {field} must be a finite number.");
    }

    private static void RequirePositive(JointHole hole, double value, string field)
    {
        RequireFinite(hole, value, field);
        if (value <= 0)
            throw new InputError(field, $"Hole \"{hole.Name}\": {field} must be greater than zero.");
    }

    private static void RequireNotNegative(JointHole hole, double value, string field)
    {
        RequireFinite(hole, value, field);
        if (value < 0)
            throw new InputError(field, $"Hole \"{hole.Name}\": {field} must not be negative.");
    }
}
