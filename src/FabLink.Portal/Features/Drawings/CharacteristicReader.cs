using System.Globalization;
using System.Text.RegularExpressions;
using FabLink.Engineering;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Joints;

namespace FabLink.Portal.Features.Drawings;

/// <summary>
/// Reads rows of characteristics against what the title block says: the unit of bare numbers and the general tolerance
/// that fills in for dimensions without one. Reads all rows, so that a person sees every problem at once.
/// </summary>
public sealed partial class CharacteristicReader(string drawingUnit, GeneralTolerance? general, Func<int, int> numberOf)
{
    private static readonly Func<CharacteristicEntry, CharacteristicEntry>[] Omissions =
    [
        entry => entry with { Kind = null }, entry => entry with { Unit = null }, entry => entry with { Count = null },
        entry => entry with { Applies = null }, entry => entry with { Rule = null },
    ];

    /// <summary>Millimetres. Powder is laid on to some tenths (common practice).</summary>
    private const decimal ThickestFilm = 2;

    private readonly List<EntryProblem> problems = [];
    private int row;

    public sealed record Reading(IReadOnlyList<Characteristic> Characteristics, IReadOnlyList<EntryProblem> Problems);

    /// <param name="entries">Blank rows are passed over; ditto marks take what stands above.</param>
    /// <param name="drawingUnit">mm or in.</param>
    /// <param name="generalTolerance">As the title block has it, or nothing.</param>
    /// <param name="numberOf">What a row is called where the table comes from a file; else they are counted from 1.</param>
    /// <exception cref="InputError">The general tolerance is not one.</exception>
    public static Reading Read(IReadOnlyList<CharacteristicEntry> entries, string drawingUnit, string? generalTolerance, Func<int, int>? numberOf = null) =>
        new CharacteristicReader(drawingUnit, string.IsNullOrWhiteSpace(generalTolerance) ? null : GeneralTolerance.Parse(generalTolerance), numberOf ?? (row => row + 1))
            .Read(entries);

    /// <summary>As little as somebody must type for it under this title block: what follows by itself is left empty, the class excepted.</summary>
    public static CharacteristicEntry Shortest(Characteristic characteristic, string drawingUnit, string? generalTolerance)
    {
        var entry = characteristic.ToEntry();
        foreach (var without in Omissions)
        {
            var shorter = without(entry);
            if (Read([shorter], drawingUnit, generalTolerance) is { Problems.Count: 0 } reading && reading.Characteristics[0].SaysTheSameAs(characteristic))
                entry = shorter;
        }

        return entry;
    }

    private Reading Read(IReadOnlyList<CharacteristicEntry> entries)
    {
        var read = new List<Characteristic>();
        var taken = new Dictionary<int, int>();
        var above = new CharacteristicEntry();
        for (row = 0; row < entries.Count; row++)
        {
            if (entries[row].IsBlank)
                continue;
            above = entries[row].Below(above);
            var before = problems.Count;
            if (ReadRow(above) is not { } characteristic || problems.Count > before)
                continue;
            if (taken.TryGetValue(characteristic.Balloon, out var first))
                Wrong(nameof(CharacteristicEntry.Balloon), $"Balloon {characteristic.Balloon} stands in row {numberOf(first)} already; one balloon, one row.");
            else
            {
                taken.Add(characteristic.Balloon, row);
                read.Add(characteristic);
            }
        }

        foreach (var (characteristic, at) in read.Where(one => one.SizeBalloon is not null).Select(one => (one, taken[one.Balloon])).ToList())
        {
            row = at;
            CheckSize(characteristic, read.Find(one => one.Balloon == characteristic.SizeBalloon));
        }

        return new Reading(read, problems);
    }

    /// <summary>The size behind a modifier must be there to be measured wherever the position is.</summary>
    private void CheckSize(Characteristic position, Characteristic? size)
    {
        var why = size switch
        {
            null => "is not among these characteristics.",
            _ when size.Kind == "angle" || size.LowerLimit is not > 0 || size.UpperLimit is null => "is not a size with two limits above zero.",
            _ when size.Count != 1 && size.Count != position.Count => $"has {size.Count} places, the position {position.Count}.",
            _ when position.Stages.Except(size.Stages).FirstOrDefault() is { } stage => $"is not checked at {stage}, where the position is.",
            _ => null,
        };
        if (why is not null)
            Wrong(nameof(CharacteristicEntry.Requirement), $"The size that the modifier refers to, balloon {position.SizeBalloon}, {why}");
    }

    private Characteristic? ReadRow(CharacteristicEntry entry)
    {
        var balloon = Balloon(entry.Balloon);
        var kind = Word(CharacteristicWords.KindWord(entry.Kind), nameof(entry.Kind), CharacteristicWords.Kinds, null, "a kind");
        var characteristicClass = Word(entry.Class, nameof(entry.Class), CharacteristicWords.Classes, "minor", "a class");
        var applies = Word(entry.Applies, nameof(entry.Applies), CharacteristicWords.Applies, null, "when it applies");
        var rule = Word(entry.Rule, nameof(entry.Rule), CharacteristicWords.Rules, null, "a judging rule");
        var rounding = Word(entry.Rounding, nameof(entry.Rounding), CharacteristicWords.Roundings, null, "a rounding of ASTM E29");
        var stages = Stages(entry.Stages);
        var requirement = Requirement(entry, kind);
        if (requirement is null || balloon is null || stages.Length == 0)
            return null;

        kind ??= Kind(requirement);
        CheckKind(kind, requirement);
        CheckPossible(kind, requirement);
        var size = (requirement as PositionWithin)?.Size;
        var count = Count(entry.Count, requirement.Count);
        if (!requirement.IsMeasured && rule is not (null or "simple"))
            Wrong(nameof(entry.Rule), "What is judged yes or no has no uncertainty; leave the rule empty.");
        return new Characteristic(
            balloon.Value,
            kind,
            Short(entry.Name, nameof(entry.Name), 120),
            Written(entry.Requirement!, requirement),
            CharacteristicWords.FromUnit(requirement.Unit),
            requirement.Nominal,
            requirement.Limits.Lower,
            requirement.Limits.Upper,
            LimitsFrom(requirement),
            Short(entry.Datums, nameof(entry.Datums), 40),
            characteristicClass!,
            stages,
            applies ?? (kind == "film" || stages is ["after coat"] ? "after coating" : "before coating"),
            count,
            rule ?? (requirement.IsMeasured && characteristicClass is not "minor" ? "guarded" : "simple"),
            rounding,
            size?.Modifier switch { MaterialCondition.Maximum => "M", MaterialCondition.Least => "L", _ => null },
            size?.Balloon,
            size is null ? null : size.IsInternal ? "hole" : "pin",
            LocatesOf(entry.Locates, kind, count, requirement));
    }

    private int? Balloon(string? typed)
    {
        var text = typed?.Trim() ?? "";
        if (int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var balloon) && balloon is >= 1 and <= 9999)
            return balloon;
        Wrong(nameof(CharacteristicEntry.Balloon), text.Length == 0
            ? "Give it the number of its balloon."
            : $"“{Cut(text)}” is not a balloon; they are whole numbers from 1 to 9999. Places of one balloon are counted, not numbered.");
        return null;
    }

    private string? Word(string? typed, string field, IReadOnlyList<string> words, string? otherwise, string what)
    {
        if (string.IsNullOrWhiteSpace(typed))
            return otherwise;
        var word = CharacteristicWords.Find(words, typed);
        if (word is null)
            Wrong(field, $"“{Cut(typed.Trim())}” is not {what}; choose from: {string.Join(", ", words)}.");
        return word ?? otherwise;
    }

    private string[] Stages(string? typed)
    {
        var stages = new List<string>();
        foreach (var part in (typed ?? "").Split([',', ';', '+', '/'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries))
        {
            if (CharacteristicWords.Find(CharacteristicWords.Stages, part) is not { } stage)
            {
                Wrong(nameof(CharacteristicEntry.Stages), $"“{Cut(part)}” is not a stage; choose from: {string.Join(", ", CharacteristicWords.Stages)}.");
                return [];
            }

            stages.Add(stage);
        }

        if (stages.Count == 0)
            Wrong(nameof(CharacteristicEntry.Stages), "Say at which stages it is checked, such as: tack, as welded.");
        return [.. CharacteristicWords.Stages.Where(stages.Contains)];
    }

    private Requirement? Requirement(CharacteristicEntry entry, string? kind)
    {
        var text = entry.Requirement?.Trim() ?? "";
        if (text.Length is 0 or > 400)
        {
            Wrong(nameof(entry.Requirement), text.Length == 0 ? "Write the requirement as on the drawing, such as 120 ±0.5." : "That is longer than a call-out can be (400 characters).");
            return null;
        }

        var unit = UnitOf(entry.Unit, kind);
        if (unit is null)
            return null;
        try
        {
            if (Engineering.Tolerances.Requirement.TryParse(Spelled(text, kind), unit.Value, general, out var requirement, out var error))
                return requirement;
            Wrong(nameof(entry.Requirement), error!.Message);
        }
        catch (InputError refusal)
        {
            Wrong(nameof(entry.Requirement), refusal.Message);
        }

        return null;
    }

    private Unit? UnitOf(string? typed, string? kind)
    {
        if (string.IsNullOrWhiteSpace(typed))
        {
            return kind switch
            {
                "angle" => Unit.Degree,
                "film" => Unit.Micrometre,
                "attribute" or "text" => Unit.None,
                _ => CharacteristicWords.ToUnit(drawingUnit),
            };
        }

        if (Units.TryParse(typed, out var unit))
            return unit;
        Wrong(nameof(CharacteristicEntry.Unit), $"“{Cut(typed.Trim())}” is not a unit; choose from: {string.Join(", ", CharacteristicWords.Units)}.");
        return null;
    }

    /// <summary>What the kind alone says about a text that would otherwise be read differently.</summary>
    private static string Spelled(string text, string? kind) => kind switch
    {
        "attribute" when !Begins(text, "go") && !Begins(text, "attribute") => "go/no-go: " + text,
        "text" when !Begins(text, "note") && !Begins(text, "text") => "note: " + text,
        // ISO 1101: the number in the frame is the width (Ø: the diameter) of the zone, so a maximum.
        not null when CharacteristicWords.IsZone(kind) && ZoneWidth().Match(text) is { Success: true } zone => $"{zone.Groups["places"]}max {zone.Groups["width"]}",
        "position" when ModifiedZone().Match(text) is { Success: true } zone => $"{zone.Groups["places"]}⌖ {zone.Groups["frame"]}",
        _ => text,
    };

    // With the kind given, the sign of the position may be left out.
    [GeneratedRegex(@"^(?!.*⌖)(?<places>\d+\s*[×xX]\s*)?(?<frame>[Ø⌀ø]?\s*\d*[.,]?\d+.*\((hole|pin)\s*\d+\s*\))$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase)]
    private static partial Regex ModifiedZone();

    private static bool Begins(string text, string word) => text.StartsWith(word, StringComparison.OrdinalIgnoreCase);

    private static string Kind(Requirement requirement) => requirement switch
    {
        GoNoGo => "attribute",
        NoteOnly => "text",
        PositionWithin => "position",
        { Prefix: SizePrefix.Diameter or SizePrefix.SphericalDiameter } => "diameter",
        { Prefix: SizePrefix.Radius or SizePrefix.SphericalRadius } => "radius",
        _ when Units.IsAngle(requirement.Unit) => "angle",
        { Unit: Unit.Micrometre or Unit.Mil } => "film",
        _ => "length",
    };

    private void CheckKind(string kind, Requirement requirement)
    {
        if (kind is "attribute" or "text" ? requirement.IsMeasured : !requirement.IsMeasured)
            Wrong(nameof(CharacteristicEntry.Kind), kind is "attribute" or "text"
                ? $"“{requirement}” is measured; it cannot be of the kind {kind}."
                : $"“{requirement}” is not measured; it cannot be of the kind {kind}.");
        else if (requirement is PositionWithin && kind != "position")
            Wrong(nameof(CharacteristicEntry.Kind), $"“{requirement}” is a position, not of the kind {kind}.");
        else if (requirement.IsMeasured && requirement.Unit != Unit.None && (kind == "angle") != Units.IsAngle(requirement.Unit))
            Wrong(nameof(CharacteristicEntry.Kind), kind == "angle"
                ? "An angle is measured in degrees or radians; this is a length."
                : $"“{requirement}” is an angle, not of the kind {kind}.");
    }

    /// <summary>What no part can have, whoever makes it: then something was written that was not meant.</summary>
    private void CheckPossible(string kind, Requirement requirement)
    {
        if (!CharacteristicWords.IsNeverNegative(kind))
            return;
        if (requirement.Nominal < 0 || requirement.Limits.Upper <= 0 || requirement.Limits.Lower < 0)
            Wrong(nameof(CharacteristicEntry.Requirement), $"“{requirement}” reaches below zero, and no {kind} does.");
        else if (kind == "film" && requirement.Limits.Upper > ThickestFilm)
            Wrong(nameof(CharacteristicEntry.Requirement), $"“{requirement}” is thicker than any film. Is µm meant?");
    }

    private int Count(string? typed, int written)
    {
        if (string.IsNullOrWhiteSpace(typed))
            return InRange(written);
        if (!int.TryParse(typed.Trim().TrimEnd('×', 'x', 'X', ' '), NumberStyles.None, CultureInfo.InvariantCulture, out var count))
        {
            Wrong(nameof(CharacteristicEntry.Count), $"“{Cut(typed.Trim())}” is not a number of places.");
            return 1;
        }

        if (written > 1 && count != written)
            Wrong(nameof(CharacteristicEntry.Count), $"The requirement says {written}×, this field says {count}.");
        return InRange(count);
    }

    private string LocatesOf(string? typed, string kind, int count, Requirement requirement)
    {
        var text = Short(typed, nameof(CharacteristicEntry.Locates), Locates.Longest);
        if (text.Length is 0 or > Locates.Longest)
            return text;
        try
        {
            var unit = CharacteristicWords.LengthUnit(CharacteristicWords.FromUnit(requirement.Unit), drawingUnit);
            var located = Locates.Parse(text, unit);
            if ((located.Role is LocatedRole.Turn or LocatedRole.Direction) != (kind == "angle"))
                throw new InputError("locates", kind == "angle" ? "An angle is the direction of a slot or the turn of a detail." : "A direction and a turn are angles; this is not one.");
            if ((located.Role is LocatedRole.Position) != (kind == "position"))
                throw new InputError("locates", kind == "position" ? "A position tolerance gives the position of its holes: write it so, such as rails/1-10 position." : "A position is a position tolerance; this is not one.");
            if (kind is "attribute" or "text" or "film" or "form" or "orientation" or "profile" or "run-out")
                throw new InputError("locates", $"A hole is located by lengths and diameters, not by the kind {kind}.");
            if (located is { Role: LocatedRole.Diameter, Kind: not ("stud" or "tapped"), Fastener: { } fastener } && requirement.Limits.Upper is { } widest && (double)widest <= fastener)
                throw new InputError("locates", $"A fastener of {JointWords.WithUnit(fastener, unit)} does not pass {requirement}.");
            if (located.Holes.Count > 1 && count > 1 && located.Holes.Count != count)
                throw new InputError("locates", $"{located.Holes.Count} holes are named and the balloon has {count} places.");
        }
        catch (InputError refusal)
        {
            Wrong(nameof(CharacteristicEntry.Locates), refusal.Message);
        }

        return text;
    }

    private int InRange(int count)
    {
        if (count is < 1 or > 999)
            Wrong(nameof(CharacteristicEntry.Count), "A balloon has 1 to 999 places.");
        return Math.Clamp(count, 1, 999);
    }

    /// <summary>The call-out without the number of places, which is kept beside it.</summary>
    private static string Written(string typed, Requirement requirement) =>
        requirement is MaximumOnly && ZoneWidth().Match(typed.Trim()) is { Success: true } zone
            ? zone.Groups["frame"].Value
            : (requirement with { Count = 1 }).ToString();

    [GeneratedRegex(@"^(?!.*⌖)(?<places>\d+\s*[×xX]\s*)?(?<frame>[Ø⌀ø]?\s*(?<width>\d*[.,]?\d+)(\s*(mm|in|µm))?)$", RegexOptions.CultureInvariant)]
    private static partial Regex ZoneWidth();

    private static string LimitsFrom(Requirement requirement) => requirement switch
    {
        FitSize fit => $"ISO 286-1 {fit.Class}",
        GeneralSize size => size.General.ToString(),
        GeneralAngle angle => angle.General.ToString(),
        _ => "stated",
    };

    private string Short(string? typed, string field, int longest)
    {
        var text = typed?.Trim() ?? "";
        if (text.Length > longest)
            Wrong(field, $"At most {longest} characters.");
        return text;
    }

    private void Wrong(string field, string message) => problems.Add(new EntryProblem(row, field, message));

    private static string Cut(string text) => text.Length > 40 ? text[..40] + "…" : text;
}
