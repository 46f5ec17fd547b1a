using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Tolerances;

public enum GeneralStandard
{
    /// <summary>ISO 2768-1 (sizes and angles) and ISO 2768-2 (form and position).</summary>
    Iso2768,

    /// <summary>ISO 13920, welded constructions.</summary>
    Iso13920,
}

/// <summary>What a general tolerance can say something about.</summary>
public enum GeneralKind
{
    Linear,

    /// <summary>External radii and chamfer heights.</summary>
    Radius,
    Angle,
    Straightness,
    Flatness,
    Parallelism,
    Perpendicularity,
    Symmetry,
    RunOut,
}

/// <summary>
/// The general tolerance of a drawing, as its title block writes it: <c>ISO 2768-m</c>, <c>ISO 2768-mK</c>, <c>ISO 2768-1 m</c>,
/// <c>ISO 2768-K</c>, <c>ISO 13920-B</c>, <c>ISO 13920-BF</c>. Sizes in mm; outside the standard's range is an error, never an extrapolation.
/// </summary>
/// <param name="Standard">Which standard.</param>
/// <param name="SizeClass">f m c v, or A to D; null when only form is toleranced.</param>
/// <param name="FormClass">H K L, or E to H; null when only sizes are toleranced.</param>
public sealed record GeneralTolerance(GeneralStandard Standard, string? SizeClass, string? FormClass)
{
    /// <exception cref="InputError">Not the designation of a general tolerance known here.</exception>
    public static GeneralTolerance Parse(string? text, string field = "general") =>
        GeneralToleranceText.TryParse(text, out var result, out var refusal) ? result! : throw new InputError(field, refusal!);

    public static bool TryParse(string? text, out GeneralTolerance? result) => GeneralToleranceText.TryParse(text, out result, out _);

    /// <summary>
    /// The deviation for a kind and size: ± in mm for sizes, ± in arc-seconds for angles (size is the shorter leg),
    /// total width in mm for form and position.
    /// </summary>
    /// <exception cref="InputError">No class for that kind, or a size outside the table.</exception>
    public decimal Deviation(GeneralKind kind, decimal size)
    {
        var table = TableOf(kind);
        var value = table.Find(size, ClassOf(kind), kind == GeneralKind.Angle ? "leg" : "size");
        return kind == GeneralKind.Angle ? value * 60 : value;
    }

    /// <summary>ISO 13920 Table 2, right half: the angular deviation as ± mm at the end of the shorter leg (mm).</summary>
    public decimal AngleAsOffset(decimal shorterLeg) => Standard == GeneralStandard.Iso13920
        ? GeneralTables.WeldedSlope.Find(shorterLeg, ClassOf(GeneralKind.Angle), "leg") * shorterLeg / 1000
        : throw new InputError("standard", $"{this} gives angles in degrees and minutes only.");

    /// <summary>Standard, edition and table that <see cref="Deviation"/> reads for that kind.</summary>
    public string SourceOf(GeneralKind kind) => TableOf(kind).Citation;

    public override string ToString() =>
        (Standard == GeneralStandard.Iso2768 ? "ISO 2768-" : "ISO 13920-") + SizeClass + FormClass;

    private SizeTable TableOf(GeneralKind kind) => GeneralTables.Find(Standard, kind)
        ?? throw new InputError("kind", $"{this} says nothing about {GeneralTables.NameOf(kind)}.");

    private string ClassOf(GeneralKind kind)
    {
        var sizes = kind is GeneralKind.Linear or GeneralKind.Radius or GeneralKind.Angle;
        return (sizes ? SizeClass : FormClass)
            ?? throw new InputError("class", $"{this} has no class for {GeneralTables.NameOf(kind)}.");
    }
}
