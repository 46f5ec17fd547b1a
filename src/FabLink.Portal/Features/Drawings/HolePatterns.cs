using FabLink.Engineering;

namespace FabLink.Portal.Features.Drawings;

/// <summary>A characteristic that locates holes, as far as a joint needs it. Base units: millimetres or arc-seconds.</summary>
public sealed record LocatedRow(
    Guid Id, Guid RevisionId, int Balloon, string Kind, string Unit, decimal? Nominal, decimal? LowerLimit, decimal? UpperLimit, int Count, string Locates, string? Modifier = null, string Rule = "simple",
    string DrawingUnit = "mm")
{
    public const string Columns = """
        id, revision_id, balloon, kind, unit, nominal, lower_limit, upper_limit, count, locates, modifier, rule,
        (select drawn.unit from revision drawn where drawn.id = characteristic.revision_id) as drawing_unit
        """;

    /// <summary>mm or in: of a number in <see cref="Locates"/> that has none written.</summary>
    public string LengthUnit => CharacteristicWords.LengthUnit(Unit, DrawingUnit);
}

/// <summary>One dimension of one hole: which value of which balloon it is.</summary>
public sealed record LocatedValue(LocatedRow Row, int Instance)
{
    /// <summary>As drawn, in mm or degrees: the nominal, else the middle of the limits, else the only limit.</summary>
    public double Drawn => InUnits(Base);

    /// <summary>The least and the most that the drawing permits, relative to <see cref="Drawn"/>.</summary>
    public (double Lower, double Upper) Deviations => (
        Row.LowerLimit is { } lower ? InUnits(lower - Base) : 0,
        Row.UpperLimit is { } upper ? InUnits(upper - Base) : 0);

    /// <summary>Given by the drawing as exact; nobody measures it.</summary>
    public bool IsBasic => Row.Id == Guid.Empty;

    /// <param name="by">The row whose text gives it.</param>
    public static LocatedValue Basic(double mm, LocatedRow? by = null) =>
        new(new LocatedRow(Guid.Empty, by?.RevisionId ?? Guid.Empty, by?.Balloon ?? 0, "length", "mm", (decimal)mm, (decimal)mm, (decimal)mm, 1, ""), 1);

    public string Balloon => Row.Count == 1 ? $"{Row.Balloon}" : $"{Row.Balloon}.{Instance}";

    private decimal Base => Row.Nominal
        ?? (Row is { LowerLimit: { } lower, UpperLimit: { } upper } ? (lower + upper) / 2 : Row.LowerLimit ?? Row.UpperLimit ?? 0);

    /// <summary>A value in base units as the geometry has it: mm, or degrees.</summary>
    public double InUnits(decimal value) => (double)(IsAngle ? value / 3600 : value);

    public bool IsAngle => Row.Kind == "angle";

    /// <param name="bonus">What the measured size adds to a position tolerance.</param>
    public bool Permits(decimal value, decimal bonus = 0) => !(value < Row.LowerLimit) && !(value > Row.UpperLimit + bonus);
}

/// <summary>A hole of a pattern as the drawing has it; what is null is not drawn.</summary>
public sealed record PatternHole(string Name)
{
    public LocatedValue? X { get; init; }

    public LocatedValue? Y { get; init; }

    public LocatedValue? Z { get; init; }

    public LocatedValue? Diameter { get; init; }

    public LocatedValue? Length { get; init; }

    public LocatedValue? Direction { get; init; }

    public LocatedValue? Position { get; init; }

    public double? Along { get; init; }

    public double? Fastener { get; init; }

    public string? Kind { get; init; }

    public bool Masked { get; init; }

    public bool Undrilled { get; init; }

    public string? Detail { get; init; }

    public string Axis { get; init; } = "z";

    /// <summary>The two coordinates in the plane across the axis, right-handed.</summary>
    public (LocatedValue? First, LocatedValue? Second) InPlane => Axis switch
    {
        "x" => (Y, Z),
        "y" => (Z, X),
        _ => (X, Y),
    };

    /// <summary>
    /// Diameter of the zone in which the drawing lets the centre be; null without a position tolerance. At least material condition the smallest hole has
    /// the whole width of its size as bonus; at maximum material condition the bonus of a larger hole is the play it has more (ISO 2692).
    /// </summary>
    public double? Zone => Position is not { Row.UpperLimit: { } limit } position ? null
        : position.InUnits(limit + (position.Row.Modifier == "L" && Diameter?.Row is { LowerLimit: { } least, UpperLimit: { } most } ? most - least : 0));

    public IEnumerable<LocatedValue> Values => new[] { X, Y, Z, Diameter, Length, Direction, Position }.OfType<LocatedValue>();
}

/// <summary>The holes of one pattern of a revision, in the order in which the table names them.</summary>
/// <param name="Problems">Sentences: what keeps the pattern from being placed.</param>
public sealed record HolePatternDrawn(string Name, IReadOnlyList<PatternHole> Holes, IReadOnlyList<string> Problems);

/// <summary>Gathers what the characteristics of one revision say about its hole patterns.</summary>
public static class HolePatterns
{
    /// <summary>All patterns by name; rows that locate nothing are passed over.</summary>
    public static IReadOnlyList<HolePatternDrawn> Of(IEnumerable<LocatedRow> rows)
    {
        var patterns = new Dictionary<string, (Dictionary<string, PatternHole> Holes, List<string> Order, List<string> Problems)>(StringComparer.OrdinalIgnoreCase);
        foreach (var row in rows.OrderBy(row => row.Balloon))
        {
            if (row.Locates.Length == 0 || Read(row) is not { Role: not LocatedRole.Turn } located)
                continue;
            if (!patterns.TryGetValue(located.Pattern, out var pattern))
                patterns[located.Pattern] = pattern = (new(StringComparer.Ordinal), [], []);
            for (var i = 0; i < located.Holes.Count; i++)
            {
                var name = located.Holes[i];
                if (!pattern.Holes.TryGetValue(name, out var hole))
                {
                    hole = new PatternHole(name);
                    pattern.Order.Add(name);
                }

                // One value for several holes (five in a row at the same height), or one each.
                pattern.Holes[name] = With(hole, located, i, new LocatedValue(row, row.Count == located.Holes.Count ? i + 1 : 1), pattern.Problems);
            }
        }

        return
        [
            .. patterns.Select(pair => new HolePatternDrawn(
                pair.Key,
                [.. pair.Value.Order.Select(name => pair.Value.Holes[name])],
                [.. pair.Value.Problems, .. pair.Value.Order.SelectMany(name => Missing(pair.Key, pair.Value.Holes[name]))])),
        ];
    }

    private static Locates? Read(LocatedRow row)
    {
        try
        {
            return Locates.Parse(row.Locates, row.LengthUnit);
        }
        catch (InputError)
        {
            // The table of characteristics refuses it when it is written; what an older portal let in locates nothing.
            return null;
        }
    }

    private static PatternHole With(PatternHole hole, Locates located, int place, LocatedValue value, List<string> problems)
    {
        var taken = located.Role switch
        {
            LocatedRole.X => hole.X,
            LocatedRole.Y => hole.Y,
            LocatedRole.Z => hole.Z,
            LocatedRole.Diameter => hole.Diameter,
            LocatedRole.Length => hole.Length,
            LocatedRole.Position => hole.Position,
            _ => hole.Direction,
        };
        if (taken is { IsBasic: false })
            problems.Add($"Balloons {taken.Balloon} and {value.Balloon} both give the {located.Role.ToString().ToLowerInvariant()} of hole {hole.Name} of {located.Pattern}.");
        hole = hole with
        {
            Fastener = located.Fastener ?? hole.Fastener,
            Kind = located.Kind ?? hole.Kind,
            Masked = located.Masked || hole.Masked,
            Undrilled = located.Undrilled || hole.Undrilled,
            Detail = located.Detail ?? hole.Detail,
            Along = located.Along ?? hole.Along,
            Axis = located.Axis ?? hole.Axis,
            X = hole.X ?? Basic(located.BasicX, place, value.Row),
            Y = hole.Y ?? Basic(located.BasicY, place, value.Row),
            Z = hole.Z ?? Basic(located.BasicZ, place, value.Row),
        };
        return located.Role switch
        {
            LocatedRole.X => hole with { X = value },
            LocatedRole.Y => hole with { Y = value },
            LocatedRole.Z => hole with { Z = value },
            LocatedRole.Diameter => hole with { Diameter = value },
            LocatedRole.Length => hole with { Length = value },
            LocatedRole.Position => hole with { Position = value },
            _ => hole with { Direction = value },
        };
    }

    private static LocatedValue? Basic(IReadOnlyList<double> mm, int place, LocatedRow by) =>
        mm.Count == 0 ? null : LocatedValue.Basic(mm[mm.Count == 1 ? 0 : place], by);

    private static IEnumerable<string> Missing(string pattern, PatternHole hole)
    {
        var (first, second) = hole.InPlane;
        if (first is null || second is null)
            yield return $"Hole {hole.Name} of {pattern} has no {string.Join(" and no ", PlaneNames(hole.Axis).Where((_, i) => (i == 0 ? first : second) is null))}.";
        if (hole.Diameter is null && hole.Kind is not ("stud" or "tapped"))
            yield return $"Hole {hole.Name} of {pattern} has no diameter.";
        if (hole.Length is not null && hole.Direction is null && hole.Along is null)
            yield return $"The slot {hole.Name} of {pattern} has no direction: write along 90 behind it, or give a direction.";
    }

    /// <summary>The two axes across the holes, in the order of <see cref="PatternHole.InPlane"/>.</summary>
    public static string[] PlaneNames(string axis) => axis switch
    {
        "x" => ["y", "z"],
        "y" => ["z", "x"],
        _ => ["x", "y"],
    };
}
