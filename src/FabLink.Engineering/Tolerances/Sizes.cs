namespace FabLink.Engineering.Tolerances;

/// <summary><c>12 ±0.1</c></summary>
public sealed record EqualDeviations(Figure Size, Figure Deviation) : Requirement
{
    public override Limits Limits => new(Size.Base - Deviation.Base, Size.Base + Deviation.Base);

    public override decimal? Nominal => Size.Base;

    protected override string Body => $"{Size} ±{Deviation.Unsigned}";
}

/// <summary><c>12 +0.2/-0.1</c>; both may lie on the same side.</summary>
public sealed record UnequalDeviations(Figure Size, Figure Upper, Figure Lower) : Requirement
{
    public override Limits Limits => new(Size.Base + Lower.Base, Size.Base + Upper.Base);

    public override decimal? Nominal => Size.Base;

    protected override string Body => $"{Size} {Upper.Signed}/{Lower.Signed}";
}

/// <summary><c>12 +0.2</c> or <c>12 -0.1</c>: the other deviation is zero and was left out.</summary>
public sealed record OneSidedDeviation(Figure Size, Figure Deviation) : Requirement
{
    public override Limits Limits => new(Size.Base + Math.Min(Deviation.Base, 0), Size.Base + Math.Max(Deviation.Base, 0));

    public override decimal? Nominal => Size.Base;

    protected override string Body => $"{Size} {Deviation.Signed}";
}

/// <summary><c>12.0-12.4</c></summary>
public sealed record TwoLimits(Figure Lower, Figure Upper) : Requirement
{
    public override Limits Limits => new(Lower.Base, Upper.Base);

    public override decimal? Nominal => null;

    protected override string Body => Upper.Base < 0 || Upper.Written[0] == '-' ? $"{Lower} to {Upper}" : $"{Lower}-{Upper}";
}

/// <summary><c>max 0.5</c>, <c>Ø14 max</c></summary>
public sealed record MaximumOnly(Figure Upper) : Requirement
{
    public override Limits Limits => new(null, Upper.Base);

    public override decimal? Nominal => null;

    protected override string Body => Prefix == SizePrefix.None ? $"max {Upper}" : $"{Upper}";

    protected override string Behind => Prefix == SizePrefix.None ? "" : " max";
}

/// <summary>The feature whose departure from its modified material limit adds to a position tolerance.</summary>
/// <param name="Balloon">Of its size on the drawing.</param>
/// <param name="IsInternal">A hole rather than a pin.</param>
/// <param name="Modifier">Maximum or least material.</param>
public sealed record SizeReference(int Balloon, bool IsInternal, MaterialCondition Modifier);

/// <summary>
/// <c>⌖ Ø0.75</c>, or <c>⌖ Ø0.75 Ⓜ (hole 12)</c>: the zone grows with the size of balloon 12 (ISO 2692). The limits are those without
/// any bonus.
/// </summary>
public sealed record PositionWithin(Figure Width, bool IsCylindrical, SizeReference? Size) : Requirement
{
    public override Limits Limits => new(null, Width.Base);

    public override decimal? Nominal => null;

    protected override string Body => $"⌖ {(IsCylindrical ? "Ø" : "")}{Width}" + Size?.Modifier switch
    {
        MaterialCondition.Maximum => " Ⓜ",
        MaterialCondition.Least => " Ⓛ",
        _ => "",
    };

    protected override string Behind => Size is null ? "" : $" ({(Size.IsInternal ? "hole" : "pin")} {Size.Balloon})";
}

/// <summary><c>min 40</c>, <c>Ø40 min</c></summary>
public sealed record MinimumOnly(Figure Lower) : Requirement
{
    public override Limits Limits => new(Lower.Base, null);

    public override decimal? Nominal => null;

    protected override string Body => Prefix == SizePrefix.None ? $"min {Lower}" : $"{Lower}";

    protected override string Behind => Prefix == SizePrefix.None ? "" : " min";
}

/// <summary><c>Ø12 H7</c>: limits from ISO 286.</summary>
public sealed record FitSize : Requirement
{
    private readonly Limits limits;

    /// <exception cref="InputError">The size is outside the tables of ISO 286.</exception>
    public FitSize(Figure size, ToleranceClass toleranceClass)
    {
        (Size, Class) = (size, toleranceClass);
        limits = toleranceClass.LimitsOf(size.Base);
    }

    public Figure Size { get; }

    public ToleranceClass Class { get; }

    public override Limits Limits => limits;

    public override decimal? Nominal => Size.Base;

    public override IReadOnlyList<string> Sources => ToleranceClass.Sources;

    protected override string Body => $"{Size} {Class}";
}

/// <summary><c>12</c> on a drawing that carries a general tolerance, which fills the blank.</summary>
public sealed record GeneralSize : Requirement
{
    /// <exception cref="InputError">The size is outside the general tolerance's table.</exception>
    public GeneralSize(Figure size, GeneralTolerance general, GeneralKind kind)
    {
        (Size, General, Kind) = (size, general, kind);
        Deviation = general.Deviation(kind, size.Base);
    }

    public Figure Size { get; }

    public GeneralTolerance General { get; }

    /// <summary>Linear or radius.</summary>
    public GeneralKind Kind { get; }

    /// <summary>± in mm.</summary>
    public decimal Deviation { get; }

    public override Limits Limits => new(Size.Base - Deviation, Size.Base + Deviation);

    public override decimal? Nominal => Size.Base;

    public override IReadOnlyList<string> Sources => [General.SourceOf(Kind)];

    protected override string Body => Size.Written;
}

/// <summary><c>45° (leg 120)</c>: an angle under a general tolerance, which goes by the shorter leg.</summary>
public sealed record GeneralAngle : Requirement
{
    /// <exception cref="InputError">The leg is outside the general tolerance's table.</exception>
    public GeneralAngle(Figure size, Figure leg, GeneralTolerance general)
    {
        (Size, Leg, General) = (size, leg, general);
        Deviation = general.Deviation(GeneralKind.Angle, leg.Base);
    }

    public Figure Size { get; }

    /// <summary>The shorter leg, base in mm.</summary>
    public Figure Leg { get; }

    public GeneralTolerance General { get; }

    /// <summary>± in arc-seconds.</summary>
    public decimal Deviation { get; }

    public override Limits Limits => new(Size.Base - Deviation, Size.Base + Deviation);

    public override decimal? Nominal => Size.Base;

    public override IReadOnlyList<string> Sources => [General.SourceOf(GeneralKind.Angle)];

    protected override string Body => Size.Written;

    protected override string Behind => $" (leg {Leg})";
}

/// <summary><c>go/no-go: thread gauge M12-6H</c>: judged yes or no.</summary>
public sealed record GoNoGo(string Means) : Requirement
{
    public override Limits Limits => default;

    public override decimal? Nominal => null;

    public override bool IsMeasured => false;

    protected override string Body => Means.Length == 0 ? "go/no-go" : $"go/no-go: {Means}";
}

/// <summary><c>note: break all edges</c>: words to be confirmed, not measured.</summary>
public sealed record NoteOnly(string Words) : Requirement
{
    public override Limits Limits => default;

    public override decimal? Nominal => null;

    public override bool IsMeasured => false;

    protected override string Body => $"note: {Words}";
}
