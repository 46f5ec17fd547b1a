using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>One link as a vector in mm, y upwards. A measured link is drawn as done, one still to be made as planned.</summary>
public sealed record ChainVector(string Name, double X, double Y, bool Measured = false);

/// <summary>How far the closing dimension can come out, in its own unit, against what is required of it.</summary>
public sealed record ChainSpread(string Name, double Nominal, double WorstLower, double WorstUpper, double LikelyLower, double LikelyUpper, double? RequiredLower, double? RequiredUpper, Mark Mark, string Unit = "mm");

/// <summary>
/// A chain as a closing polygon: the links head to tail, the closing dimension back to the start. Links on one line are drawn as a stair of
/// dimensions. Under it the spread of the closing dimension: thin to the worst case, thick where it most likely lies, brackets what is required.
/// </summary>
public sealed record ChainPolygon(IReadOnlyList<ChainVector> Links, ChainSpread Closing, string? Words = null) : IHtmlContent
{
    private const double Width = 360, Pad = 40, Bar = 58;

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        if (Links.Count == 0)
        {
            svg.Raw("<p class=\"empty\">No links yet.</p>");
            return;
        }

        var corners = new (double X, double Y)[Links.Count + 1];
        for (var i = 0; i < Links.Count; i++)
            corners[i + 1] = (corners[i].X + Links[i].X, corners[i].Y + Links[i].Y);
        var (minX, maxX) = (corners.Min(static c => c.X), corners.Max(static c => c.X));
        var (minY, maxY) = (corners.Min(static c => c.Y), corners.Max(static c => c.Y));
        var flat = maxY - minY < 0.02 * (maxX - minX);
        var scale = Math.Min((Width - 2 * Pad) / Math.Max(maxX - minX, 1e-9), flat ? double.MaxValue : 240 / Math.Max(maxY - minY, 1e-9));
        if (!double.IsFinite(scale) || scale > 1e9)
            scale = 1;
        var step = flat ? 22.0 : 0;
        var tall = flat ? step * (Links.Count + 1) + 10 : (maxY - minY) * scale + 2 * 30;
        var left = (Width - (maxX - minX) * scale) / 2;

        svg.Open("pic chain", Width, tall + Bar, Words ?? InWords());
        (double X, double Y) At(int i, int row) => (left + (corners[i].X - minX) * scale, flat ? 22 + row * step : 30 + (maxY - corners[i].Y) * scale);

        for (var i = 0; i < Links.Count; i++)
        {
            var (a, b) = (At(i, i), At(i + 1, i));
            svg.Arrow(Links[i].Measured ? "l done slim" : "l planned", a.X, a.Y, b.X, b.Y, 8);
            if (flat)
                svg.Line("hair", b.X, b.Y - 4, b.X, b.Y + step + 4);
            Name(svg, Links[i].Name, a, b, flat);
        }

        Close(svg, At(Links.Count, Links.Count), At(0, Links.Count), flat);
        Spread(svg, tall + 22);
        svg.Close();
    }

    private static void Name(Svg svg, string name, (double X, double Y) a, (double X, double Y) b, bool flat)
    {
        var (x, y) = ((a.X + b.X) / 2, (a.Y + b.Y) / 2);
        var (dx, dy) = (b.X - a.X, b.Y - a.Y);
        var length = Math.Max(Math.Sqrt(dx * dx + dy * dy), 1e-9);
        if (flat)
        {
            svg.Label(name, x, y - 5, "t", "middle");
            return;
        }

        // Outside the polygon when it goes round counter-clockwise; inside where the name would leave the picture.
        var (aside, below) = (-dy / length, dx / length);
        var wide = name.Length * 6.2 + 12;
        if ((aside < -0.35 && x - wide < 0) || (aside > 0.35 && x + wide > Width))
            (aside, below) = (-aside, -below);
        svg.Label(name, x + aside * 9, y + below * 9 + 4, "t", aside < -0.35 ? "end" : aside > 0.35 ? "start" : "middle");
    }

    private void Close(Svg svg, (double X, double Y) from, (double X, double Y) to, bool flat)
    {
        var (dx, dy) = (to.X - from.X, to.Y - from.Y);
        var length = Math.Sqrt(dx * dx + dy * dy);
        // The closing dimension is often too short to see at this scale; the ring says where it is.
        var tiny = length < 14;
        if (tiny)
            svg.Raw("<circle class=\"closing\" cx=\"").N((from.X + to.X) / 2).Raw("\" cy=\"").N((from.Y + to.Y) / 2).Raw("\" r=\"9\"/>");
        else
            svg.Arrow("closing", from.X, from.Y, to.X, to.Y, 9);
        if (!tiny)
            Name(svg, Closing.Name, from, to, flat);
        else if (from.X < Width / 2)
            svg.Label(Closing.Name, from.X + 14, from.Y + 4, "t b");
        else
            svg.Label(Closing.Name, from.X - 14, from.Y + 4, "t b", "end");
    }

    private void Spread(Svg svg, double y)
    {
        var c = Closing;
        double[] all = [c.WorstLower, c.WorstUpper, c.LikelyLower, c.LikelyUpper, c.Nominal, c.RequiredLower ?? c.Nominal, c.RequiredUpper ?? c.Nominal];
        var (low, high) = (all.Min(), all.Max());
        var width = high - low > 0 ? high - low : 1;
        double At(double value) => Pad + (value - low) / width * (Width - 2 * Pad);
        svg.Line("hair", 8, y, Width - 8, y);
        if (c.RequiredLower is { } from)
            svg.Raw("<path class=\"ink\" d=\"M").N(At(from) + 6).Raw(" ").N(y - 10).Raw("h-6v20h6\"/>").Label(Svg.Say(from), At(from), y + 24, "t", "middle");
        if (c.RequiredUpper is { } to)
            svg.Raw("<path class=\"ink\" d=\"M").N(At(to) - 6).Raw(" ").N(y - 10).Raw("h6v20h-6\"/>").Label(Svg.Say(to), At(to), y + 24, "t", "middle");
        var style = c.Mark switch { Mark.Conforms => "ok", Mark.DoesNotConform => "no", _ => "np" };
        svg.Raw("<path class=\"").Raw(style).Raw(" line\" d=\"M").N(At(c.WorstLower)).Raw(" ").N(y).Raw("H").N(At(c.WorstUpper))
            .Raw("M").N(At(c.WorstLower)).Raw(" ").N(y - 4).Raw("v8M").N(At(c.WorstUpper)).Raw(" ").N(y - 4).Raw("v8\"/>");
        svg.Raw("<path class=\"").Raw(style).Raw(" line wide\" d=\"M").N(At(c.LikelyLower)).Raw(" ").N(y).Raw("H").N(At(c.LikelyUpper)).Raw("\"/>");
        svg.Mark(c.Mark, At(c.Nominal), y);
    }

    private string InWords()
    {
        var c = Closing;
        var required = (c.RequiredLower, c.RequiredUpper) switch
        {
            ({ } low, { } high) => $"required {Svg.Say(low)} to {Svg.Say(high)} {c.Unit}",
            (null, { } high) => $"required at most {Svg.Say(high)} {c.Unit}",
            ({ } low, null) => $"required at least {Svg.Say(low)} {c.Unit}",
            _ => "nothing required",
        };
        return $"Chain of {Links.Count} links ({string.Join(", ", Links.Select(static l => l.Name))}), {Links.Count(static l => l.Measured)} measured. " +
            $"{c.Name} {Svg.Say(c.Nominal)} {c.Unit}, worst case {Svg.Say(c.WorstLower)} to {Svg.Say(c.WorstUpper)}, likely {Svg.Say(c.LikelyLower)} to {Svg.Say(c.LikelyUpper)}; {required}: {VerdictWord.Of(c.Mark)}";
    }
}
