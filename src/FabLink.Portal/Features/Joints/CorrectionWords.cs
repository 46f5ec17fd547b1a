using FabLink.Engineering.BoltUp;

namespace FabLink.Portal.Features.Joints;

/// <summary>Advice as a person at the bench is told it, in the unit of the drawing.</summary>
public static class CorrectionWords
{
    /// <summary>One sentence or two; the lengths of an advice are mm, whatever is said.</summary>
    /// <param name="welded">It is past its tacks.</param>
    public static string Text(AdviceAnswer advice, string unit, bool welded = false)
    {
        if (advice.Move is not { } move)
            return HolesText(advice, unit);
        var parts = new List<string>();
        if (move.TurnDegrees != 0)
            parts.Add($"turn it {Math.Abs(move.TurnDegrees):0.####}° {(move.TurnDegrees > 0 ? "counter-clockwise" : "clockwise")} about hole {move.About}");
        if (move.ShiftX != 0)
            parts.Add($"{JointWords.Length(Math.Abs(move.ShiftX), unit)} {unit} towards {(move.ShiftX > 0 ? "+x" : "−x")}");
        if (move.ShiftY != 0)
            parts.Add($"{JointWords.Length(Math.Abs(move.ShiftY), unit)} {unit} towards {(move.ShiftY > 0 ? "+y" : "−y")}");
        var how = string.Join(", then ", parts);
        return welded
            ? $"Only if the engineer of the build shop says so, for it is welded: cut {move.Detail} loose and set it again {how}; the rest stays."
            : $"Re-set {move.Detail}: break its tacks and move it {how}; the rest stays.";
    }

    /// <summary>What the part's own drawing says to it; null when nothing.</summary>
    /// <param name="breaks">As <see cref="JointFinding.AdviceBreaks"/>; older findings have none.</param>
    /// <param name="unproven">As <see cref="JointFinding.AdviceUnproven"/>; older findings have none.</param>
    public static string? Against(IReadOnlyList<IReadOnlyList<string>> breaks, IReadOnlyList<IReadOnlyList<string>> unproven, int advice) =>
        string.Join(' ', new[]
        {
            Balloons(breaks, advice) is { } outside ? $"Leaves {outside} outside the drawing: ask the engineer of the build shop for a concession first." : null,
            Balloons(unproven, advice) is { } near ? $"Leaves {near} so near to a limit that the uncertainty of the last measurement cannot prove it: measure that more finely, or ask first." : null,
        }.OfType<string>()) is { Length: > 0 } words ? words : null;

    private static string? Balloons(IReadOnlyList<IReadOnlyList<string>> lists, int advice) => advice < lists.Count && lists[advice] is { Count: > 0 } balloons
        ? $"{(balloons.Count == 1 ? "balloon" : "balloons")} {string.Join(", ", balloons.Take(8))}{(balloons.Count > 8 ? " and more" : "")}"
        : null;

    private static string HolesText(AdviceAnswer advice, string unit)
    {
        string Length(double mm) => JointWords.Length(mm, unit);
        string Size(HoleChangeAnswer hole) => hole.Slot is null ? $"Ø{Length(hole.Diameter)} {unit}" : $"{Length(hole.Diameter)} {unit} wide and {Length(hole.Diameter + hole.Slot.Travel)} {unit} over its ends";
        string All(Func<HoleChangeAnswer, string> words) => string.Join(", ", advice.Holes.Select(words));
        return advice.Kind switch
        {
            "open-holes" => $"Open {All(hole => $"hole {hole.Name} to {Size(hole)}")}.",
            "slot-holes" => $"File {All(hole => hole.Slot is { } slot ? $"hole {hole.Name} out by {Length(slot.Travel)} {unit} towards {slot.AngleDegrees:0.##}°" : $"hole {hole.Name} clean")}.",
            "open-all" => advice.Holes.GroupBy(Size).ToList() is [var one]
                ? $"Open all {advice.Holes.Count} holes to {one.Key}."
                : $"Open all holes: {string.Join(", ", advice.Holes.GroupBy(Size).Select(group => $"{(group.Count() == 1 ? "hole" : "holes")} {string.Join(" and ", group.Select(hole => hole.Name))} to {group.Key}"))}.",
            _ => $"Drill to the measured mate: {All(hole => $"hole {hole.Name} at ({Length(hole.X)}, {Length(hole.Y)}) {unit}")}.",
        };
    }

    /// <summary>
    /// How it is set with a tape and a square: each hole of the moved detail from the nearest hole that stays, before and after.
    /// </summary>
    public static IEnumerable<string> Settings(AdviceAnswer advice, CorrectionBody body, string unit)
    {
        if (advice.Move is not { } move || body.Holes.FirstOrDefault(hole => hole.Name == move.About) is not { } about)
            yield break;
        var stays = body.Holes.Where(hole => hole.Now.Detail != move.Detail).ToList();
        var (sin, cos) = double.SinCos(move.TurnDegrees * (Math.PI / 180));
        foreach (var hole in body.Holes.Where(hole => hole.Now.Detail == move.Detail))
        {
            if (stays.MinBy(other => double.Hypot(other.Now.X - hole.Now.X, other.Now.Y - hole.Now.Y)) is not { } from)
                continue;
            double x = hole.Now.X - about.Now.X, y = hole.Now.Y - about.Now.Y;
            var (afterX, afterY) = (about.Now.X + (cos * x) - (sin * y) + move.ShiftX, about.Now.Y + (sin * x) + (cos * y) + move.ShiftY);
            yield return $"Hole {hole.Name}, from hole {from.Name}: x {JointWords.Length(hole.Now.X - from.Now.X, unit)} → {JointWords.Length(afterX - from.Now.X, unit)}, "
                + $"y {JointWords.Length(hole.Now.Y - from.Now.Y, unit)} → {JointWords.Length(afterY - from.Now.Y, unit)} {unit}.";
        }
    }
}
