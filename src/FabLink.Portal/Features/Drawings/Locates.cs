using System.Globalization;
using System.Text.RegularExpressions;
using FabLink.Engineering;

namespace FabLink.Portal.Features.Drawings;

/// <summary>What a located characteristic says about its holes, or about a detail.</summary>
public enum LocatedRole
{
    X,
    Y,
    Z,
    Diameter,

    /// <summary>Over the ends of a slot.</summary>
    Length,

    /// <summary>Direction of a slot's long axis, counter-clockwise from x.</summary>
    Direction,

    /// <summary>The diametral position tolerance about coordinates that other balloons or the text give.</summary>
    Position,

    /// <summary>The angle by which a detail stands.</summary>
    Turn,
}

/// <summary>
/// Which hole of which pattern a characteristic locates, as the table of characteristics has it: <c>rails/3 x</c>,
/// <c>rails/1-10 diameter, M12, floating, masked, on left pad</c>, <c>foot/1-2 length, along 90</c>, <c>turn of pad, reach 640</c>.
/// Lengths in mm, once read.
/// </summary>
/// <param name="Pattern">Empty for <see cref="LocatedRole.Turn"/>.</param>
/// <param name="Holes">Names in the order of the characteristic's instances; empty for <see cref="LocatedRole.Turn"/>.</param>
public sealed partial record Locates(string Pattern, IReadOnlyList<string> Holes, LocatedRole Role)
{
    public const int Longest = 120;

    private static readonly Dictionary<string, LocatedRole> Roles = new(StringComparer.OrdinalIgnoreCase)
    {
        ["x"] = LocatedRole.X,
        ["y"] = LocatedRole.Y,
        ["z"] = LocatedRole.Z,
        ["diameter"] = LocatedRole.Diameter,
        ["dia"] = LocatedRole.Diameter,
        ["width"] = LocatedRole.Diameter,
        ["length"] = LocatedRole.Length,
        ["direction"] = LocatedRole.Direction,
        ["position"] = LocatedRole.Position,
    };

    /// <summary>Major diameter of the fastener, mm.</summary>
    public double? Fastener { get; init; }

    /// <summary>floating, stud or tapped.</summary>
    public string? Kind { get; init; }

    public bool Masked { get; init; }

    public bool Undrilled { get; init; }

    /// <summary>The pad, tab or bracket that carries the holes.</summary>
    public string? Detail { get; init; }

    /// <summary>Direction of a slot whose direction is not measured, degrees from x.</summary>
    public double? Along { get; init; }

    /// <summary>x, y or z: the holes' axis; z unless stated.</summary>
    public string? Axis { get; init; }

    /// <summary>Coordinates that no balloon gives, exact on the drawing, mm: one for all holes, or one each; empty when not said.</summary>
    public IReadOnlyList<double> BasicX { get; init; } = [];

    /// <inheritdoc cref="BasicX"/>
    public IReadOnlyList<double> BasicY { get; init; } = [];

    /// <inheritdoc cref="BasicX"/>
    public IReadOnlyList<double> BasicZ { get; init; } = [];

    /// <summary>How far from the turned detail its angle matters, mm.</summary>
    public double? Reach { get; init; }

    /// <summary>Reads one entry; empty text is nobody's and is not asked here.</summary>
    /// <param name="unit">mm or in: of a number that has none written; <c>M12</c> is in mm always.</param>
    /// <exception cref="InputError">In one sentence, what could not be read.</exception>
    public static Locates Parse(string text, string unit = "mm")
    {
        var parts = text.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries);
        if (parts.Length == 0)
            throw Wrong(text);
        var located = Head(parts[0]);
        foreach (var part in parts.Skip(1))
            located = located.With(part, unit);
        if (located.Role == LocatedRole.Turn && (located.Fastener ?? located.Along) is not null)
            throw new InputError("locates", "A turn has neither fastener nor slot.");
        return located;
    }

    private static Locates Head(string head)
    {
        if (TurnOf().Match(head) is { Success: true } turn)
            return new Locates("", [], LocatedRole.Turn) { Detail = turn.Groups["detail"].Value };
        if (HeadOf().Match(head) is not { Success: true } match || !Roles.TryGetValue(match.Groups["role"].Value, out var role))
            throw Wrong(head);
        return new Locates(match.Groups["pattern"].Value.Trim(), [.. match.Groups["holes"].Value.Split('+').SelectMany(NamesOf)], role);
    }

    private static IEnumerable<string> NamesOf(string holes)
    {
        if (RangeOf().Match(holes) is not { Success: true } range)
            return [holes.Trim()];
        var (first, last) = (int.Parse(range.Groups["first"].Value, CultureInfo.InvariantCulture), int.Parse(range.Groups["last"].Value, CultureInfo.InvariantCulture));
        if (last < first || last - first > 998)
            throw new InputError("locates", $"Holes {holes} run backwards or are too many.");
        return Enumerable.Range(first, last - first + 1).Select(number => number.ToString(CultureInfo.InvariantCulture));
    }

    private Locates With(string part, string unit)
    {
        switch (part.ToLowerInvariant())
        {
            case "floating" or "stud" or "tapped":
                return this with { Kind = part.ToLowerInvariant() };
            case "masked":
                return this with { Masked = true };
            case "undrilled":
                return this with { Undrilled = true };
        }

        if (Attribute().Match(part) is not { Success: true } match)
            throw new InputError("locates", $"“{part}” is not understood; after the hole may stand M12 or fastener 12, floating, stud or tapped, masked, undrilled, on a detail, along 90, x 0 or y 0 or x 0+180+360 (what no balloon gives), axis x, reach 640.");
        var (word, value) = (match.Groups["word"].Value.ToLowerInvariant(), match.Groups["value"].Value.Trim());
        return word switch
        {
            "m" => this with { Fastener = Number(value, above: 0, "mm") },
            "fastener" => this with { Fastener = Number(value, above: 0, unit) },
            "along" => this with { Along = Number(value.TrimEnd('°'), above: -3600, "mm") },
            "x" => this with { BasicX = Numbers(value, unit) },
            "y" => this with { BasicY = Numbers(value, unit) },
            "z" => this with { BasicZ = Numbers(value, unit) },
            "reach" => this with { Reach = Number(value, above: 0, unit) },
            "axis" when value.ToLowerInvariant() is "x" or "y" or "z" => this with { Axis = value.ToLowerInvariant() },
            "on" when value.Length <= 40 => this with { Detail = value },
            "on" => throw new InputError("locates", "The name of a detail has at most 40 characters."),
            _ => throw new InputError("locates", "The axis of a hole is x, y or z."),
        };
    }

    /// <summary>The entry with other basic coordinates of one axis; the rest of its text stays as it was written.</summary>
    /// <param name="text">What <see cref="Parse"/> understands, with that coordinate in it.</param>
    /// <param name="axis">x, y or z.</param>
    /// <param name="places">One for each hole, in the unit in which <see cref="Parse"/> reads a number without one.</param>
    public static string WithBasic(string text, string axis, IReadOnlyList<string> places)
    {
        var written = places.Distinct().Count() == 1 ? places[0] : string.Join('+', places);
        return string.Join(", ", text.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries)
            .Select((part, i) => i > 0 && part.StartsWith(axis + " ", StringComparison.OrdinalIgnoreCase) ? $"{axis} {written}" : part));
    }

    /// <summary>A unit behind the last of several and behind no other is the unit of all.</summary>
    private List<double> Numbers(string text, string unit)
    {
        var written = text.Split('+', StringSplitOptions.TrimEntries);
        if (UnitOf(written[^1]) is { } last && written[..^1].All(each => UnitOf(each) is null))
            unit = last;
        var numbers = written.Select(each => Number(each, above: -1e6, unit)).ToList();
        return numbers.Count == 1 || numbers.Count == Holes.Count
            ? numbers
            : throw new InputError("locates", $"{Holes.Count} holes are named and {numbers.Count} coordinates given: write one for all, or one each, such as x 0+180+360.");
    }

    private static string? UnitOf(string text) =>
        text.EndsWith("in", StringComparison.OrdinalIgnoreCase) ? "in" : text.EndsWith("mm", StringComparison.OrdinalIgnoreCase) ? "mm" : null;

    private static double Number(string text, double above, string unit)
    {
        var written = UnitOf(text);
        return double.TryParse((written is null ? text : text[..^2]).Trim(), NumberStyles.Float, CultureInfo.InvariantCulture, out var number) && double.IsFinite(number) && number > above && number < 1e6
            ? number * ((written ?? unit) == "in" ? 25.4 : 1)
            : throw new InputError("locates", $"“{text}” is not a number that can stand here.");
    }

    private static InputError Wrong(string text) => new(
        "locates", $"“{text}” does not name a hole; write the pattern, the hole and what it gives, such as rails/3 x, rails/1-10 diameter, rails/1-10 position, foot/2 length, or turn of pad.");

    [GeneratedRegex(@"^(?<pattern>[^/,]{1,40})/(?<holes>[\p{L}\p{Nd}][\p{L}\p{Nd}.+\-]*)\s+(?<role>\p{L}+)$")]
    private static partial Regex HeadOf();

    [GeneratedRegex(@"^(?<first>\d{1,4})-(?<last>\d{1,4})$")]
    private static partial Regex RangeOf();

    [GeneratedRegex(@"^turn of (?<detail>.{1,40})$", RegexOptions.IgnoreCase)]
    private static partial Regex TurnOf();

    [GeneratedRegex(@"^(?<word>m(?=[\d.])|fastener|along|reach|axis|on|[xyz](?=\s))\s*(?<value>.{1,100})$", RegexOptions.IgnoreCase)]
    private static partial Regex Attribute();
}
