using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tolerances;

/// <param name="Deviation">± for sizes and angles, total width for form and position; in <paramref name="Unit"/>.</param>
/// <param name="Unit">Millimetres, or degrees for angles.</param>
/// <param name="IsTotal">Is it a total width rather than ±?</param>
/// <param name="Offset">For an angle of ISO 13920: the same deviation as ± mm at the end of the shorter leg; else null.</param>
/// <param name="Sources">Standard, edition, table.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record GeneralToleranceAnswer(
    decimal Deviation,
    Unit Unit,
    bool IsTotal,
    decimal? Offset,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>What a general tolerance allows at one size.</summary>
public static class GeneralTolerances
{
    public static IReadOnlyList<string> Standards { get; } = ["ISO 2768-1", "ISO 2768-2", "ISO 13920"];

    /// <param name="standard">ISO 2768-1, ISO 2768-2 or ISO 13920.</param>
    /// <param name="classLetter">f m c v; H K L; A to D or E to H.</param>
    /// <param name="kind">linear, radius, angle, straightness, flatness, parallelism, perpendicularity, symmetry or run-out.</param>
    /// <param name="size">Nominal size in mm; the shorter leg for angles and perpendicularity; anything above zero for run-out.</param>
    /// <exception cref="InputError">Unknown standard, class or kind, or a size outside the table; the message names the range.</exception>
    public static GeneralToleranceAnswer Find(string standard, string classLetter, string kind, decimal size) =>
        Find(standard, classLetter, ParseKind(kind), size);

    /// <inheritdoc cref="Find(string, string, string, decimal)"/>
    public static GeneralToleranceAnswer Find(string standard, string classLetter, GeneralKind kind, decimal size)
    {
        if (!Standards.Contains(standard))
            throw new InputError("standard", $"“{standard}” is none of {string.Join(", ", Standards)}.");
        if (!GeneralTolerance.TryParse($"{standard} {classLetter}", out var general) || classLetter.Length != 1)
            throw new InputError("class", $"“{classLetter}” is no class of {standard}.");
        if (standard == "ISO 2768-1" && kind is not (GeneralKind.Linear or GeneralKind.Radius or GeneralKind.Angle))
            throw new InputError("kind", $"ISO 2768-1 says nothing about {GeneralTables.NameOf(kind)}; ISO 2768-2 does.");
        if (standard == "ISO 2768-2" && kind is GeneralKind.Linear or GeneralKind.Radius or GeneralKind.Angle)
            throw new InputError("kind", $"ISO 2768-2 says nothing about {GeneralTables.NameOf(kind)}; ISO 2768-1 does.");

        var deviation = general!.Deviation(kind, size);
        var isAngle = kind == GeneralKind.Angle;
        return new GeneralToleranceAnswer(
            isAngle ? deviation / 3600 : deviation,
            isAngle ? Unit.Degree : Unit.Millimetre,
            kind is not (GeneralKind.Linear or GeneralKind.Radius or GeneralKind.Angle),
            isAngle && general.Standard == GeneralStandard.Iso13920 ? general.AngleAsOffset(size) : null,
            [general.SourceOf(kind)],
            CautionsFor(standard, kind));
    }

    /// <exception cref="InputError">Not a kind.</exception>
    public static GeneralKind ParseKind(string? text) => text?.Trim().ToLowerInvariant() switch
    {
        "linear" => GeneralKind.Linear,
        "radius" => GeneralKind.Radius,
        "angle" => GeneralKind.Angle,
        "straightness" => GeneralKind.Straightness,
        "flatness" => GeneralKind.Flatness,
        "parallelism" => GeneralKind.Parallelism,
        "perpendicularity" => GeneralKind.Perpendicularity,
        "symmetry" => GeneralKind.Symmetry,
        "run-out" => GeneralKind.RunOut,
        _ => throw new InputError("kind", $"“{text}” is none of linear, radius, angle, straightness, flatness, parallelism, perpendicularity, symmetry, run-out."),
    };

    /// <summary>ISO 2768-2:1989, 5.1.2: roundness is the diameter's size tolerance, but at most the run-out value.</summary>
    /// <param name="formClass">H, K or L.</param>
    /// <param name="sizeTolerance">Total width of the diameter's tolerance, mm.</param>
    public static decimal Roundness(string formClass, decimal sizeTolerance) =>
        Math.Min(sizeTolerance, Find("ISO 2768-2", formClass, GeneralKind.RunOut, 1).Deviation);

    /// <summary>ISO 2768-2:1989, 5.2.1: parallelism is the size tolerance between the features or their flatness, whichever is larger.</summary>
    /// <param name="formClass">H, K or L.</param>
    /// <param name="sizeTolerance">Total width, mm.</param>
    /// <param name="length">The longer feature, mm.</param>
    public static decimal Parallelism(string formClass, decimal sizeTolerance, decimal length) =>
        Math.Max(sizeTolerance, Find("ISO 2768-2", formClass, GeneralKind.Flatness, length).Deviation);

    private static List<string> CautionsFor(string standard, GeneralKind kind)
    {
        var cautions = new List<string> { "It applies only where the drawing names this standard and the dimension has no tolerance of its own." };
        if (standard == "ISO 2768-2")
            cautions.Add("ISO 2768-2 was withdrawn in 2021 (ISO 22081 replaces it); drawings that name it still mean these values.");
        if (kind is GeneralKind.Angle or GeneralKind.Perpendicularity)
            cautions.Add("The size is the length of the shorter leg.");
        if (standard == "ISO 13920")
            cautions.Add("For welded constructions, without machining.");
        return cautions;
    }
}
