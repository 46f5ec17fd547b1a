using System.Globalization;

namespace FabLink.Engineering.BoltUp;

/// <summary>Advice in the unit of the person who asked, and as a sentence for the bench.</summary>
internal static class AdviceText
{
    public static AdviceAnswer Answer(Advice advice, Joint joint, double unit)
    {
        var symbol = unit == 1 ? "mm" : "in";
        var holes = advice.Holes.Select(hole => new HoleChangeAnswer(
            hole.Name,
            Name(hole.Side),
            Clean(hole.X / unit),
            Clean(hole.Y / unit),
            Clean(hole.Diameter / unit),
            hole.Slot is { } slot ? slot with { Travel = Clean(slot.Travel / unit) } : null)).ToArray();
        var move = advice.Move is { } given
            ? new DetailMoveAnswer(given.Detail, Name(given.Side), given.About, Clean(given.ShiftX / unit), Clean(given.ShiftY / unit), given.TurnDegrees)
            : null;
        var (kind, text) = advice.Kind switch
        {
            AdviceKind.MoveDetail => ("move-detail", MoveText(move!, advice.Move!, joint, unit, symbol)),
            AdviceKind.OpenHoles => ("open-holes", $"Open {List(holes.Select(hole => $"hole {hole.Name} in part {hole.Side} to {Size(hole, symbol)}"))}."),
            AdviceKind.SlotHoles => ("slot-holes", $"Or file {List(holes.Select(hole => SlotText(hole, symbol)))}."),
            AdviceKind.OpenAll => ("open-all", $"Open all holes of part {holes[0].Side}: {List(holes.GroupBy(hole => Size(hole, symbol)).Select(group => $"{(group.Count() == 1 ? "hole" : "holes")} {string.Join(" and ", group.Select(hole => hole.Name))} to {group.Key}"))}."),
            _ => ("drill-to-mate", $"Drill to the measured mate: {List(holes.Select(hole => $"hole {hole.Name} in part {hole.Side} at ({Number(hole.X)}, {Number(hole.Y)}) {symbol}"))}."),
        };
        return new AdviceAnswer(kind, text, move, holes, advice.Margin / unit);
    }

    private static string MoveText(DetailMoveAnswer move, DetailMove inMm, Joint joint, double unit, string symbol)
    {
        var parts = new List<string>();
        if (move.TurnDegrees != 0)
        {
            var (far, distance) = Furthest(joint, inMm);
            var lift = distance * Math.Tan(Math.Abs(move.TurnDegrees) * (Math.PI / 180));
            parts.Add($"turn it {Number(Math.Abs(move.TurnDegrees))}° {(move.TurnDegrees > 0 ? "counter-clockwise" : "clockwise")} about hole {move.About} "
                + $"({Number(Math.Round(lift / unit, 3))} {symbol} at hole {far}, {Number(Math.Round(distance / unit, 2))} {symbol} away)");
        }

        if (move.ShiftX != 0)
            parts.Add($"shift it {Number(Math.Abs(move.ShiftX))} {symbol} towards {(move.ShiftX > 0 ? "+x" : "−x")}");
        if (move.ShiftY != 0)
            parts.Add($"shift it {Number(Math.Abs(move.ShiftY))} {symbol} towards {(move.ShiftY > 0 ? "+y" : "−y")}");
        return $"Re-set {move.Detail} on part {move.Side}, measured at hole {move.About}: {string.Join(", then ", parts)}.";
    }

    private static (string Name, double Distance) Furthest(Joint joint, DetailMove move)
    {
        var pivot = Advice.Side(joint.Holes.First(hole => hole.Name == move.About), move.Side);
        return joint.Holes
            .Where(hole => Advice.Side(hole, move.Side).Detail == move.Detail)
            .Select(hole => (hole.Name, double.Hypot(Advice.Side(hole, move.Side).X - pivot.X, Advice.Side(hole, move.Side).Y - pivot.Y)))
            .MaxBy(each => each.Item2);
    }

    private static string SlotText(HoleChangeAnswer hole, string symbol) => hole.Slot is { } slot
        ? $"hole {hole.Name} in part {hole.Side} out by {Number(slot.Travel)} {symbol} towards {Number(slot.AngleDegrees)}°"
        : $"hole {hole.Name} in part {hole.Side} clean";

    private static string Size(HoleChangeAnswer hole, string symbol) =>
        hole.Slot is null ? $"Ø{Number(hole.Diameter)} {symbol}" : $"{Number(hole.Diameter)} {symbol} wide and {Number(hole.Diameter + hole.Slot.Travel)} {symbol} over its ends";

    private static string List(IEnumerable<string> items) => string.Join(", ", items);

    private static string Name(JointSide side) => side == JointSide.A ? "a" : "b";

    /// <summary>Without the noise of the division by the unit: a nanometre is below every use.</summary>
    private static double Clean(double value) => Math.Round(value, 9);

    private static string Number(double value) => Math.Round(value, 6).ToString(CultureInfo.InvariantCulture);
}
