using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>
/// One hole of a joint as it stands after the best move. Centre and displacement in mm, y upwards, angles in degrees counter-clockwise from x.
/// The allowance is the radius in which the mate's centre may lie; a slot lengthens it by its half travel both ways along its direction.
/// </summary>
public sealed record HoleMark(
    string Name, double X, double Y, double Allowance, double ShiftX, double ShiftY,
    bool Limiting = false, double HalfTravel = 0, double SlotAngle = 0)
{
    /// <summary>Distance of the displaced centre from the slot's middle line (or the hole's centre), mm.</summary>
    public double Used
    {
        get
        {
            var (sin, cos) = Math.SinCos(SlotAngle * Math.PI / 180);
            var along = Math.Clamp(ShiftX * cos + ShiftY * sin, -HalfTravel, HalfTravel);
            var (x, y) = (ShiftX - along * cos, ShiftY - along * sin);
            return Math.Sqrt(x * x + y * y);
        }
    }

    /// <summary>What is left of the allowance, mm; negative when the fastener does not pass.</summary>
    public double Left => Allowance - Used;
}

/// <summary>
/// Two hole patterns laid over each other: each circle (stadium for a slot) is an allowance, each arrow where the mate's centre lies,
/// both drawn <see cref="Magnification"/> times larger than the pattern. Zero chooses the magnification.
/// </summary>
public sealed record HolePattern(IReadOnlyList<HoleMark> Holes, double Magnification = 0, string? Words = null) : IHtmlContent
{
    private const double Width = 360, Pad = 48, Room = 40, Foot = 22;

    /// <summary>mm or in: what its scale and its words are in.</summary>
    public string Unit { get; init; } = "mm";

    private double PerUnit => Unit == "in" ? 25.4 : 1;

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        if (Holes.Count == 0)
        {
            svg.Raw("<p class=\"empty\">No holes yet.</p>");
            return;
        }

        var (minX, maxX) = (Holes.Min(static h => h.X), Holes.Max(static h => h.X));
        var (minY, maxY) = (Holes.Min(static h => h.Y), Holes.Max(static h => h.Y));
        var scale = Math.Min((Width - 2 * Pad) / Math.Max(maxX - minX, 1e-6), 300 / Math.Max(maxY - minY, 1e-6));
        if (maxX - minX < 1e-6 && maxY - minY < 1e-6)
            scale = 1;
        var height = Math.Max((maxY - minY) * scale, 20) + 2 * Pad + Foot;
        var left = (Width - (maxX - minX) * scale) / 2;
        var times = Magnification > 0 ? Magnification : Choose(scale);
        var pixels = scale * times;

        svg.Open("pic holes", Width, height, Words ?? InWords());
        foreach (var hole in Holes)
            Draw(svg, hole, left + (hole.X - minX) * scale, Pad + (maxY - hole.Y) * scale, pixels);
        Ruler(svg, height - 9, pixels, times);
        svg.Close();
    }

    private static void Draw(Svg svg, HoleMark hole, double x, double y, double pixels)
    {
        var radius = Math.Max(hole.Allowance * pixels, 0.75);
        var reach = hole.HalfTravel * pixels;
        var cross = radius + 4;
        svg.Line("centre", x - cross, y, x + cross, y).Line("centre", x, y - cross, x, y + cross);
        var zone = hole.Limiting ? "zone limiting" : "zone";
        if (hole.HalfTravel > 0)
        {
            svg.Raw("<rect class=\"").Raw(zone).Raw("\" x=\"").N(x - reach - radius).Raw("\" y=\"").N(y - radius).Raw("\" width=\"").N(2 * (reach + radius))
                .Raw("\" height=\"").N(2 * radius).Raw("\" rx=\"").N(radius).Raw("\" transform=\"rotate(").N(-hole.SlotAngle).Raw(" ").N(x).Raw(" ").N(y).Raw(")\"/>");
        }
        else
        {
            svg.Raw("<circle class=\"").Raw(zone).Raw("\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"").N(radius).Raw("\"/>");
        }

        var (endX, endY) = (x + hole.ShiftX * pixels, y - hole.ShiftY * pixels);
        var passes = hole.Left >= 0;
        svg.Arrow(passes ? "shift" : "shift no", x, y, endX, endY);
        if (!passes)
            svg.Mark(Mark.DoesNotConform, endX, endY, 3);
        if (hole.Limiting)
            svg.Raw("<path class=\"corner\" d=\"M").N(x - cross).Raw(" ").N(y - cross + 6).Raw("v-6h6M").N(x + cross - 6).Raw(" ").N(y - cross).Raw("h6v6M")
                .N(x + cross).Raw(" ").N(y + cross - 6).Raw("v6h-6M").N(x - cross + 6).Raw(" ").N(y + cross).Raw("h-6v-6\"/>");
        svg.Label(hole.Name, x + cross * 0.72 + 3, y - cross * 0.72 - 2, hole.Limiting ? "t b" : "t");
    }

    /// <summary>A round length under the picture that says what the magnified lengths are.</summary>
    private void Ruler(Svg svg, double y, double pixels, double times)
    {
        var length = Round(60 / (pixels * PerUnit));
        var end = 8 + length * pixels * PerUnit;
        svg.Raw("<path class=\"ink thin\" d=\"M8 ").N(y - 8).Raw("v8H").N(end).Raw("v-8\"/>");
        svg.Label($"{Svg.Say(length)} {Unit} in the circles and arrows, {Svg.Say(times)}× the pattern", end + 7, y - 1);
    }

    private double Choose(double scale)
    {
        // Neighbouring circles may touch, not overlap; the largest stays inside the frame.
        var nearest = double.PositiveInfinity;
        for (var i = 0; i < Holes.Count && Holes.Count <= 400; i++)
        {
            for (var j = i + 1; j < Holes.Count; j++)
            {
                var (dx, dy) = (Holes[i].X - Holes[j].X, Holes[i].Y - Holes[j].Y);
                nearest = Math.Min(nearest, Math.Sqrt(dx * dx + dy * dy));
            }
        }

        var room = Math.Min(Room, nearest * scale * 0.42);
        var largest = Holes.Max(static h => Math.Max(h.Allowance + h.HalfTravel, Math.Sqrt(h.ShiftX * h.ShiftX + h.ShiftY * h.ShiftY)));
        if (largest <= 0)
            return 1;
        // Finer than 1, 2, 5, so that the room is used; below 1 where a hole is farther off than the picture has room for.
        var wanted = Math.Max(room, 4) / (largest * scale);
        var power = Math.Pow(10, Math.Floor(Math.Log10(wanted)));
        return Math.Floor(wanted / power) * power;
    }

    /// <summary>The largest of 1, 2, 5 × 10ⁿ that is not larger.</summary>
    private static double Round(double number)
    {
        var power = Math.Pow(10, Math.Floor(Math.Log10(number)));
        var lead = number / power;
        return power * (lead >= 5 ? 5 : lead >= 2 ? 2 : 1);
    }

    private string Say(double mm) => $"{Svg.Say(Math.Round(mm / PerUnit, Unit == "in" ? 4 : 3))} {Unit}";

    private string InWords()
    {
        var worst = Holes.MinBy(static h => h.Left)!;
        var failing = Holes.Where(static h => h.Left < 0).Select(static h => h.Name).ToList();
        var limiting = Holes.Where(static h => h.Limiting).Select(static h => h.Name).ToList();
        var verdict = failing.Count == 0
            ? $"every fastener passes; least clearance {Say(worst.Left)} at hole {worst.Name}"
            : $"the fastener does not pass at {(failing.Count == 1 ? "hole" : "holes")} {string.Join(", ", failing)}; {Say(-worst.Left)} too far at hole {worst.Name}";
        return $"{Holes.Count} {(Holes.Count == 1 ? "hole" : "holes")}: {verdict}{(limiting.Count == 0 ? "" : $"; limiting: {string.Join(", ", limiting)}")}";
    }
}
