using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Portal.Features.Drawings;

/// <summary>A characteristic as it is kept: limits in millimetres or arc-seconds, exact.</summary>
/// <param name="Id">Empty while it is only typed.</param>
/// <param name="RevisionId">Empty while it is only typed.</param>
public sealed record Characteristic(
    int Balloon,
    string Kind,
    string Name,
    string Requirement,
    string Unit,
    decimal? Nominal,
    decimal? LowerLimit,
    decimal? UpperLimit,
    string LimitsFrom,
    string Datums,
    string Class,
    string[] Stages,
    string Applies,
    int Count,
    string Rule,
    string? Rounding,
    string? Modifier,
    int? SizeBalloon,
    string? SizeOf,
    string Locates,
    Guid Id = default,
    Guid RevisionId = default)
{
    /// <summary>What a person says of it.</summary>
    public const string Said =
        "balloon, kind, name, requirement, unit, nominal, lower_limit, upper_limit, limits_from, datums, class, stages, applies, count, rule, rounding, modifier, size_balloon, size_of, locates";

    /// <summary>All of the row.</summary>
    public const string Columns = Said + ", id, revision_id";

    /// <summary>Widths of zones, films and diameters are never below zero.</summary>
    public bool IsNeverNegative => CharacteristicWords.IsNeverNegative(Kind);

    /// <summary>By a number; else yes or no.</summary>
    public bool IsMeasured => Kind is not ("attribute" or "text");

    public Limits Limits => new(LowerLimit, UpperLimit);

    public Unit UnitOf => Units.TryParse(Unit, out var unit) ? unit : Engineering.Quantities.Unit.None;

    public string NameOf(int instance) => Count == 1 ? $"{Balloon}" : $"{Balloon}.{instance}";

    /// <summary>As the drawing has it, with the number of places: <c>10× Ø13.5 +0.27/0</c>.</summary>
    public string CallOut => Count > 1 ? $"{Count}× {Requirement}" : Requirement;

    /// <summary>A value in base units as a person reads it, in the unit of the call-out.</summary>
    public string Show(decimal value) => CharacteristicWords.Show(value, Unit);

    /// <summary>What a person would have typed for this row.</summary>
    public CharacteristicEntry ToEntry() => new()
    {
        Balloon = Balloon.ToString(),
        Requirement = Requirement,
        Name = Name,
        Kind = Kind,
        Unit = Unit,
        Datums = Datums,
        Class = Class,
        Stages = string.Join(", ", Stages),
        Applies = Applies,
        Count = Count.ToString(),
        Rule = Rule,
        Rounding = Rounding,
        Locates = Locates,
    };

    /// <summary>The same requirement in the same words; arrays are compared by what they hold.</summary>
    public bool SaysTheSameAs(Characteristic other) =>
        this with { Stages = other.Stages, Id = other.Id, RevisionId = other.RevisionId } == other && Stages.SequenceEqual(other.Stages);
}

/// <summary>The words that a characteristic may use, each as the database keeps it, and what else is understood.</summary>
public static class CharacteristicWords
{
    public static IReadOnlyList<string> Kinds { get; } =
        ["length", "diameter", "radius", "angle", "position", "form", "orientation", "profile", "run-out", "film", "attribute", "text"];

    /// <summary>The tolerances of ISO 1101 under the kind that they belong to (its table 2).</summary>
    private static readonly Dictionary<string, string> _kindOf = new(StringComparer.OrdinalIgnoreCase)
    {
        ["straightness"] = "form",
        ["flatness"] = "form",
        ["roundness"] = "form",
        ["circularity"] = "form",
        ["cylindricity"] = "form",
        ["parallelism"] = "orientation",
        ["perpendicularity"] = "orientation",
        ["squareness"] = "orientation",
        ["angularity"] = "orientation",
        ["concentricity"] = "position",
        ["coaxiality"] = "position",
        ["symmetry"] = "position",
        ["runout"] = "run-out",
    };

    /// <summary>The kind that a typed word stands for; the word itself where it is none of ISO 1101.</summary>
    public static string? KindWord(string? typed) => typed is not null && _kindOf.TryGetValue(typed.Trim(), out var kind) ? kind : typed;

    public static IReadOnlyList<string> Classes { get; } = ["critical", "major", "minor"];

    public static IReadOnlyList<string> Stages { get; } =
        ["cut", "tack", "as welded", "as machined", "before coat", "after coat", "receiving", "installed"];

    public static IReadOnlyList<string> Applies { get; } = ["before coating", "after coating"];

    /// <summary>Widths of zones, films and diameters.</summary>
    public static bool IsNeverNegative(string kind) => kind is "film" or "diameter" or "radius" || IsZone(kind);

    public static IReadOnlyList<string> Rules { get; } = ["simple", "guarded", "probability"];

    public static IReadOnlyList<string> Roundings { get; } = ["absolute", "rounding"];

    public static IReadOnlyList<string> Units { get; } = ["mm", "µm", "in", "mil", "deg", "dms", "rad", "none"];

    /// <summary>Kinds whose bare number is the width of a zone and so a maximum.</summary>
    public static bool IsZone(string kind) => kind is "position" or "form" or "orientation" or "profile" or "run-out";

    /// <summary>The word itself, or the only one that a typed beginning can mean (<c>crit</c>, <c>weld</c>); null when none or several.</summary>
    public static string? Find(IReadOnlyList<string> words, string typed)
    {
        var text = Plain(typed);
        if (words.FirstOrDefault(word => Plain(word) == text) is { } word)
            return word;
        var meant = words.Where(word => (" " + Plain(word)).Contains(" " + text, StringComparison.Ordinal)).ToList();
        return meant.Count == 1 ? meant[0] : null;

        static string Plain(string word) => word.Trim().ToLowerInvariant().Replace('_', ' ').Replace('-', ' ');
    }

    public static Unit ToUnit(string word) => word switch
    {
        "mm" => Unit.Millimetre,
        "µm" => Unit.Micrometre,
        "in" => Unit.Inch,
        "mil" => Unit.Mil,
        "deg" => Unit.Degree,
        "dms" => Unit.DegreeMinuteSecond,
        "rad" => Unit.Radian,
        "none" => Unit.None,
        _ => throw new ArgumentOutOfRangeException(nameof(word), word, "Not a unit of a characteristic."),
    };

    /// <summary>mm or in: of lengths in a row of this unit; a row in degrees has them in the unit of its drawing.</summary>
    public static string LengthUnit(string unit, string drawingUnit) => unit switch
    {
        "mm" or "µm" => "mm",
        "in" or "mil" => "in",
        _ => drawingUnit,
    };

    public static string FromUnit(Unit unit) => unit switch
    {
        Unit.Millimetre => "mm",
        Unit.Micrometre => "µm",
        Unit.Inch => "in",
        Unit.Mil => "mil",
        Unit.Degree => "deg",
        Unit.DegreeMinuteSecond => "dms",
        Unit.Radian => "rad",
        _ => "none",
    };

    /// <summary>The unit as it stands behind a number; nothing where the number carries its own sign.</summary>
    public static string Symbol(string unit) => unit switch
    {
        "deg" or "dms" or "none" => "",
        _ => unit,
    };

    /// <summary>A value in base units, in the given unit, without the zeros that a conversion leaves; degrees carry their signs.</summary>
    public static string Show(decimal value, string unit) => unit switch
    {
        "dms" => AngleText.Format(Trim(value)),
        "deg" => AngleText.FormatDegrees(value),
        _ => Trim(Engineering.Quantities.Units.FromBase(value, ToUnit(unit))).ToString(),
    };

    private static decimal Trim(decimal value) => decimal.Parse(decimal.Round(value, 9).ToString("0.#########"));
}
