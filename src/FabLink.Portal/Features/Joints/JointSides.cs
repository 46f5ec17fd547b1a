using FabLink.Engineering.BoltUp;
using FabLink.Portal.Features.Drawings;

namespace FabLink.Portal.Features.Joints;

/// <summary>What was measured of one value of a piece: the newest, whichever stage it came from. Base units.</summary>
/// <param name="Bonus">What its measured size adds to a position tolerance; null without.</param>
public sealed record MeasuredNow(decimal Value, decimal? ExpandedUncertainty, string Stage, decimal? Bonus = null);

/// <summary>One hole of one side of a joint, drawn or measured, ready for the solver. Lengths in mm, angles in degrees.</summary>
public sealed record SideHole(string Name, BoltUpSide Drawn, BoltUpSide Now, bool Measured, double? Fastener, string? Kind, IReadOnlyList<FailedDimension> Failed)
{
    /// <summary>At least one of its dimensions is measured.</summary>
    public bool AnyMeasured { get; init; } = Measured;

    /// <summary>What the drawing itself asks of it, whatever the joint needs.</summary>
    public IReadOnlyList<OwnLimit> Limits { get; init; } = [];

    /// <summary>Its position is measured as a deviation: how far it stands off is known, not where to.</summary>
    public bool OnlyHowFar { get; init; }
}

/// <summary>The limits of one dimension of a hole, mm.</summary>
/// <param name="Of">x, y (in the plane of the pattern), diameter (a slot's width) or length (over its ends).</param>
/// <param name="Guard">The expanded uncertainty by which a guarded value must clear them, as it was measured last; 0 where none is known or none is asked.</param>
public sealed record OwnLimit(string Of, string Balloon, double? Lower, double? Upper, double Guard = 0)
{
    public bool Permits(double mm) => !(mm < Lower - 1e-6) && !(mm > Upper + 1e-6);

    /// <summary>Measured again as closely as before, it would be proven.</summary>
    public bool Proves(double mm) => !(mm < Lower + Guard - 1e-6) && !(mm > Upper - Guard + 1e-6);
}

/// <summary>One side of a joint.</summary>
/// <param name="What">As a person names it: <c>RH-110-001 rails</c>, <c>survey carrier rails</c>.</param>
/// <param name="IsPart">False for the machine as surveyed.</param>
/// <param name="Problems">Sentences that keep the joint from being computed.</param>
public sealed record JointSideFacts(string What, IReadOnlyList<SideHole> Holes, bool IsPart, IReadOnlyList<string> Problems)
{
    /// <summary>mm or in: what the drawing is in, and so what its people read and set.</summary>
    public string Unit { get; init; } = "mm";

    /// <summary>What a person should know of these holes before using the figures.</summary>
    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>A pattern of a part: what is measured counts, what is not counts as drawn with its tolerances.</summary>
    /// <param name="measured">By characteristic and instance.</param>
    public static JointSideFacts OfPattern(
        string what, string side, HolePatternDrawn pattern, IReadOnlyDictionary<(Guid Characteristic, int Instance), MeasuredNow> measured) =>
        new(what, pattern.Problems.Count > 0 ? [] : [.. pattern.Holes.Select(hole => Hole(side, hole, measured))], IsPart: true, pattern.Problems);

    private static SideHole Hole(string side, PatternHole hole, IReadOnlyDictionary<(Guid, int), MeasuredNow> measured)
    {
        MeasuredNow? Of(LocatedValue? value) => value is not null && measured.TryGetValue((value.Row.Id, value.Instance), out var now) ? now : null;
        var (first, second) = hole.InPlane;
        var drawn = Side(hole, _ => null);
        var failed = hole.Values
            .Select(value => (value, Now: Of(value)))
            .Where(pair => pair.Now is { } now && !pair.value.Permits(now.Value, now.Bonus ?? 0))
            .Select(pair => new FailedDimension(side, hole.Name, pair.value.Balloon, pair.value.InUnits(pair.Now!.Value), Matters: true) { IsAngle = pair.value.IsAngle });
        return new SideHole(
            hole.Name,
            drawn,
            Side(hole, Of),
            new[] { first, second, hole.Diameter }.All(value => value is null or { IsBasic: true } || Of(value) is not null) && (hole.Position is null || (Of(first) ?? Of(second)) is not null),
            hole.Fastener,
            hole.Kind,
            [.. failed])
        {
            AnyMeasured = hole.Values.Any(value => Of(value) is not null),
            Limits = [.. new[] { ("x", first), ("y", second), ("diameter", hole.Diameter), ("length", hole.Length) }.Select(pair => Limit(pair.Item1, pair.Item2, Of(pair.Item2))).OfType<OwnLimit>()],
            OnlyHowFar = hole.Position is not null && Of(hole.Position) is not null && Of(first) is null && Of(second) is null,
        };
    }

    private static OwnLimit? Limit(string of, LocatedValue? value, MeasuredNow? now) => value is null or { IsBasic: true } ? null
        : new OwnLimit(
            of,
            value.Balloon,
            value.Row.LowerLimit is { } lower ? value.InUnits(lower) : null,
            value.Row.UpperLimit is { } upper ? value.InUnits(upper) : null,
            value.Row.Rule == "guarded" && now?.ExpandedUncertainty is { } u ? value.InUnits(u) : 0);

    private static BoltUpSide Side(PatternHole hole, Func<LocatedValue?, MeasuredNow?> measured)
    {
        var (first, second) = (hole.InPlane.First!, hole.InPlane.Second!);
        var (x, y, diameter) = (measured(first), measured(second), measured(hole.Diameter));
        double Now(LocatedValue value, MeasuredNow? now) => now is null ? value.Drawn : value.InUnits(now.Value);
        (double Lower, double Upper)? Open(LocatedValue? value, MeasuredNow? now) => value is null || now is not null ? null : value.Deviations;
        // What is basic has no deviations, so it opens nothing.
        var (openX, openY, openDiameter) = (Open(first, x), Open(second, y), Open(hole.Diameter, diameter));
        // A position tolerance takes the place of tolerances on the coordinates; a measured deviation that of the tolerance.
        var zone = hole.Position is null || x is not null || y is not null ? null : measured(hole.Position) is { } off ? hole.Position.InUnits(off.Value) : hole.Zone;
        if (zone is not null)
            (openX, openY) = (null, null);
        var uncertainty = Math.Max((double)(x?.ExpandedUncertainty ?? 0), (double)(y?.ExpandedUncertainty ?? 0));
        var width = hole.Diameter is { } bore ? Now(bore, diameter) : (double?)null;
        return new BoltUpSide
        {
            X = Now(first, x),
            Y = Now(second, y),
            Diameter = width,
            Slot = hole.Length is { } length && width is { } across
                ? new BoltUpSlot
                {
                    Travel = Math.Max(0, Now(length, measured(length)) - across),
                    AngleDegrees = hole.Direction is { } direction ? Now(direction, measured(direction)) : hole.Along,
                    // A measured length with a width that is not: the wider it gets the less is left to travel.
                    LengthLower = Open(length, measured(length))?.Lower ?? (diameter is null ? 0 : null),
                    LengthUpper = Open(length, measured(length))?.Upper ?? (diameter is null ? 0 : null),
                    DirectionLower = Open(hole.Direction, measured(hole.Direction))?.Lower,
                    DirectionUpper = Open(hole.Direction, measured(hole.Direction))?.Upper,
                }
                : null,
            // The film is in the value already where the bore was measured after coating.
            Masked = hole.Masked || diameter is { Stage: "after coat" or "receiving" or "installed" },
            Detail = hole.Detail,
            Drilled = !hole.Undrilled || (x is not null && y is not null),
            Uncertainty = uncertainty > 0 ? uncertainty : null,
            PositionTolerance = zone,
            XLower = openX?.Lower,
            XUpper = openX?.Upper,
            YLower = openY?.Lower,
            YUpper = openY?.Upper,
            DiameterLower = openDiameter?.Lower,
            DiameterUpper = openDiameter?.Upper,
        };
    }
}
