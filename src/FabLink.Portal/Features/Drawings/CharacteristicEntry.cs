namespace FabLink.Portal.Features.Drawings;

/// <summary>One characteristic as a person wrote it, in the table of the page, in a file or in pasted text; nothing is read yet.</summary>
public sealed record CharacteristicEntry
{
    /// <summary>In a field alone: the same as in the row above, as lists on drawings have it.</summary>
    public const string Ditto = "\"";

    public string? Balloon { get; init; }

    public string? Requirement { get; init; }

    public string? Name { get; init; }

    /// <summary>Empty: as the requirement says.</summary>
    public string? Kind { get; init; }

    /// <summary>Empty: the drawing's unit, degrees for an angle, µm for a film.</summary>
    public string? Unit { get; init; }

    public string? Datums { get; init; }

    /// <summary>Empty: minor.</summary>
    public string? Class { get; init; }

    /// <summary>Separated by commas.</summary>
    public string? Stages { get; init; }

    /// <summary>Empty: after coating for a film and for what is checked after coat only, else before coating.</summary>
    public string? Applies { get; init; }

    /// <summary>Empty: as the requirement says, else one.</summary>
    public string? Count { get; init; }

    /// <summary>Empty: guarded for critical and major, simple for minor and for what is not measured.</summary>
    public string? Rule { get; init; }

    /// <summary>ASTM E29; empty: none.</summary>
    public string? Rounding { get; init; }

    /// <summary>Which hole of which pattern it locates; empty: none.</summary>
    public string? Locates { get; init; }

    public bool IsBlank => Fields.All(string.IsNullOrWhiteSpace);

    private IEnumerable<string?> Fields => [Balloon, Requirement, Name, Kind, Unit, Datums, Class, Stages, Applies, Count, Rule, Rounding, Locates];

    /// <summary>The same with its ditto marks replaced by what stands above.</summary>
    public CharacteristicEntry Below(CharacteristicEntry above) => new()
    {
        Balloon = Balloon,
        Requirement = Or(Requirement, above.Requirement),
        Name = Or(Name, above.Name),
        Kind = Or(Kind, above.Kind),
        Unit = Or(Unit, above.Unit),
        Datums = Or(Datums, above.Datums),
        Class = Or(Class, above.Class),
        Stages = Or(Stages, above.Stages),
        Applies = Or(Applies, above.Applies),
        Count = Or(Count, above.Count),
        Rule = Or(Rule, above.Rule),
        Rounding = Or(Rounding, above.Rounding),
        Locates = Or(Locates, above.Locates),
    };

    private static string? Or(string? typed, string? above) => typed?.Trim() is Ditto or "”" or "〃" ? above : typed;
}

/// <summary>What is wrong with one field of one row.</summary>
/// <param name="Row">From 0, in the order given, blank rows counted.</param>
/// <param name="Field">A name of <see cref="CharacteristicEntry"/>.</param>
/// <param name="Message">One sentence for the person who typed it.</param>
public sealed record EntryProblem(int Row, string Field, string Message);
