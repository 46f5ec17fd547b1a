using System.Text.Encodings.Web;
using FabLink.Engineering.Geometry;
using FabLink.Engineering.Sampling;
using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Platform.Web.Pictures;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Features.Bench;

/// <summary>
/// Where a feature is high and where it is low. A plane is seen from above: the size of each mark is the residual, filled is high, open is
/// low. A circle is drawn about its centre with the residuals magnified between its two zone circles; all others as residual along the feature.
/// Corners mark the points that hold a minimum zone.
/// </summary>
public sealed record FormErrorMap(FeatureAnswer Answer, IReadOnlyList<IReadOnlyList<double>> Points) : IHtmlContent
{
    private const double Width = 360, Height = 250, Pad = 34;
    private const int MostDrawn = 2_000;

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        svg.Open("pic chain", Width, Height + 20, InWords());
        var step = Math.Max(1, Points.Count / MostDrawn);
        var drawn = Enumerable.Range(0, Points.Count).Where(i => i % step == 0 || IsActive(i)).ToArray();
        switch (Answer.Kind)
        {
            case "plane":
                DrawPlane(svg, drawn);
                break;
            case "circle":
                DrawCircle(svg, drawn);
                break;
            default:
                DrawAlong(svg, drawn);
                break;
        }

        svg.Label($"largest residual {Typed.Say(Largest, 6)}, {Answer.Characteristic} {Typed.Say(Answer.Form, 6)}", 8, Height + 14);
        svg.Close();
    }

    private double Largest => Answer.Residuals.Max(Math.Abs);

    private bool IsActive(int i) => Answer.Active?.Any(point => point.Index == i) == true;

    private void DrawPlane(Svg svg, int[] drawn)
    {
        var normal = Answer.Direction!;
        // Two directions in the plane, the first as near to x as can be.
        double[] along = Math.Abs(normal[0]) < 0.9 ? [1, 0, 0] : [0, 1, 0];
        var lean = Dot(along, normal);
        along = Unit([along[0] - lean * normal[0], along[1] - lean * normal[1], along[2] - lean * normal[2]]);
        double[] across = [normal[1] * along[2] - normal[2] * along[1], normal[2] * along[0] - normal[0] * along[2], normal[0] * along[1] - normal[1] * along[0]];
        var (u, v) = (drawn.Select(i => Dot(Points[i], along)).ToArray(), drawn.Select(i => Dot(Points[i], across)).ToArray());
        var scale = Math.Min((Width - 2 * Pad) / Span(u), (Height - 2 * Pad) / Span(v));
        for (var k = 0; k < drawn.Length; k++)
            Place(svg, drawn[k], Pad + (u[k] - u.Min()) * scale, Height - Pad - (v[k] - v.Min()) * scale);
    }

    private void Place(Svg svg, int i, double x, double y)
    {
        var residual = Answer.Residuals[i];
        var radius = 2 + 12 * Math.Abs(residual) / Math.Max(Largest, 1e-300);
        svg.Raw(residual >= 0 ? "<circle class=\"ok\" cx=\"" : "<circle class=\"np\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"").N(radius).Raw("\"/>");
        if (IsActive(i))
            Corners(svg, x, y, radius + 4);
    }

    private void DrawCircle(Svg svg, int[] drawn)
    {
        const double nominal = 84, room = 24;
        var (x, y) = (Width / 2, Height / 2);
        double At(double residual) => nominal + room * residual / Math.Max(Largest, 1e-300);
        foreach (var (radius, style) in new[] { (nominal, "centre"), (At(Answer.Residuals.Max()), "hair"), (At(Answer.Residuals.Min()), "hair") })
            svg.Raw("<circle class=\"").Raw(style).Raw("\" fill=\"none\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"").N(radius).Raw("\"/>");
        foreach (var i in drawn)
        {
            var angle = Math.Atan2(Points[i][1] - Answer.Centre[1], Points[i][0] - Answer.Centre[0]);
            Dot(svg, i, x + At(Answer.Residuals[i]) * Math.Cos(angle), y - At(Answer.Residuals[i]) * Math.Sin(angle));
        }
    }

    private void DrawAlong(Svg svg, int[] drawn)
    {
        var places = drawn.Select(i => Answer.Direction is { } direction && direction.Count == Points[i].Count ? Dot(Points[i], direction) : i).ToArray();
        var middle = Height / 2;
        svg.Line("centre", 8, middle, Width - 8, middle);
        for (var k = 0; k < drawn.Length; k++)
            Dot(svg, drawn[k], Pad + (places[k] - places.Min()) / Span(places) * (Width - 2 * Pad), middle - 90 * Answer.Residuals[drawn[k]] / Math.Max(Largest, 1e-300));
    }

    private void Dot(Svg svg, int i, double x, double y)
    {
        svg.Raw(Answer.Residuals[i] >= 0 ? "<circle class=\"ok\" cx=\"" : "<circle class=\"np\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"3\"/>");
        if (IsActive(i))
            Corners(svg, x, y, 7);
    }

    private static void Corners(Svg svg, double x, double y, double reach) =>
        svg.Raw("<path class=\"corner\" d=\"M").N(x - reach).Raw(" ").N(y - reach + 4).Raw("v-4h4M").N(x + reach - 4).Raw(" ").N(y - reach).Raw("h4v4M")
            .N(x + reach).Raw(" ").N(y + reach - 4).Raw("v4h-4M").N(x - reach + 4).Raw(" ").N(y + reach).Raw("h-4v-4\"/>");

    private static double Dot(IReadOnlyList<double> a, IReadOnlyList<double> b) => a.Select((each, i) => each * b[i]).Sum();

    private static double[] Unit(double[] v) => [.. v.Select(each => each / Math.Sqrt(Dot(v, v)))];

    private static double Span(double[] values) => Math.Max(values.Max() - values.Min(), 1e-12);

    private string InWords()
    {
        var (high, low) = (IndexOf(Answer.Residuals.Max()), IndexOf(Answer.Residuals.Min()));
        return $"{Answer.Count} points on a {Answer.Kind}: {Answer.Characteristic} {Typed.Say(Answer.Form, 6)}; highest is point {high + 1} with {Typed.Say(Answer.Residuals[high], 6)}, lowest point {low + 1} with {Typed.Say(Answer.Residuals[low], 6)}"
            + (Answer.Active is { } active ? $"; the zone is held by points {string.Join(", ", active.Select(point => point.Index + 1))}" : "");
    }

    private int IndexOf(double residual) => Enumerable.Range(0, Answer.Residuals.Count).First(i => Answer.Residuals[i] == residual);
}

/// <summary>How likely a plan accepts, over the fraction nonconforming of a process, or over the nonconforming pieces of one lot.</summary>
public sealed record CurvePicture(int SampleSize, int Accept, int? Lot) : IHtmlContent
{
    private const double Width = 360, Height = 220, Left = 40, Right = 14, Top = 14, Foot = 34;

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        svg.Open("pic chain", Width, Height, InWords());
        var end = End;
        double X(double p) => Left + p / end * (Width - Left - Right);
        double Y(double accepted) => Top + (1 - accepted) * (Height - Top - Foot);
        foreach (var level in new[] { 0, 0.1, 0.5, 0.95, 1 })
        {
            svg.Line("hair", Left, Y(level), Width - Right, Y(level));
            if (level is not 1)
                svg.Label($"{100 * level:0} %", Left - 5, Y(level) + 4, "t", "end");
        }

        for (var i = 0; i <= 4; i++)
            svg.Label($"{Typed.Say(100 * end * i / 4, 2)} %", X(end * i / 4), Height - 18, "t", i == 4 ? "end" : "middle");
        svg.Label(Lot is { } lot ? $"nonconforming in the lot of {lot}" : "nonconforming from the process", Width / 2, Height - 4, "t", "middle");
        svg.Raw("<path class=\"ink\" d=\"");
        var command = "M";
        foreach (var (p, accepted) in Points)
        {
            svg.Raw(command).N(X(p)).Raw(" ").N(Y(accepted));
            command = "L";
        }

        svg.Raw("\"/>");
        svg.Close();
    }

    /// <summary>As far as the curve is worth looking at: where one lot or sample in fifty is still accepted, rounded up.</summary>
    private double End => Accept >= SampleSize ? 1 : Math.Min(1, 1.1 * OperatingCurve.FractionAccepted(0.02, SampleSize, Accept));

    private IEnumerable<(double Fraction, double Accepted)> Points
    {
        get
        {
            var end = End;
            if (Lot is { } lot)
            {
                var most = (int)Math.Min(lot, Math.Ceiling(end * lot));
                var step = Math.Max(1, most / 120);
                for (var d = 0; d <= most; d += step)
                {
                    if ((double)d / lot <= end)
                        yield return ((double)d / lot, OperatingCurve.Hypergeometric(lot, d, SampleSize, Accept));
                }
            }
            else
            {
                for (var i = 0; i <= 120; i++)
                    yield return (end * i / 120, OperatingCurve.Binomial(end * i / 120, SampleSize, Accept));
            }
        }
    }

    private string InWords() => Accept >= SampleSize
        ? $"Sample of {SampleSize}, accept with {Accept}: everything is accepted"
        : $"Sample of {SampleSize}, accept with at most {Accept}: a process with {Typed.Say(100 * OperatingCurve.FractionAccepted(0.95, SampleSize, Accept), 3)} % nonconforming is accepted 95 % of the time, one with {Typed.Say(100 * OperatingCurve.FractionAccepted(0.10, SampleSize, Accept), 2)} % is accepted 10 % of the time";
}

/// <summary>Every reading of a study over its part, as far from the part's own average as it lies; each person has a shape.</summary>
public sealed record GaugePicture(IReadOnlyList<GaugeReadingQuestion> Readings) : IHtmlContent
{
    private const double Width = 360, Height = 220, Left = 46, Right = 10, Top = 14, Foot = 40;
    private const int MostParts = 40;
    private static readonly string[] _shapes = ["disc", "square", "cross", "triangle", "ring"];

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        var parts = Readings.Select(reading => reading.Part!).Distinct().Take(MostParts).ToArray();
        var people = Readings.Select(reading => reading.Person!).Distinct().ToArray();
        var means = parts.ToDictionary(part => part, part => Readings.Where(reading => reading.Part == part).Average(reading => (double)reading.Value!.Value));
        var shown = Readings.Where(reading => means.ContainsKey(reading.Part!)).ToArray();
        var largest = Math.Max(shown.Max(reading => Math.Abs(Off(reading))), 1e-12);
        svg.Open("pic chain", Width, Height, InWords(parts, people, largest));
        double Off(GaugeReadingQuestion reading) => (double)reading.Value!.Value - means[reading.Part!];
        double X(int part, int person) => Left + (part + (person + 1.0) / (people.Length + 1)) * (Width - Left - Right) / parts.Length;
        double Y(double off) => Top + (1 - off / largest) / 2 * (Height - Top - Foot);

        svg.Line("centre", Left, Y(0), Width - Right, Y(0));
        svg.Label("+" + Typed.Say(largest), Left - 4, Y(largest) + 8, "t", "end");
        svg.Label("−" + Typed.Say(largest), Left - 4, Y(-largest), "t", "end");
        svg.Label("mean", Left - 4, Y(0) + 4, "t", "end");
        for (var i = 0; i < parts.Length; i++)
        {
            svg.Line("hair", X(i, -1), Top, X(i, -1), Height - Foot);
            if (parts.Length <= 12)
                svg.Label(parts[i], (X(i, -1) + X(i, people.Length)) / 2, Height - Foot + 13, "t", "middle");
        }

        foreach (var reading in shown)
        {
            var person = Array.IndexOf(people, reading.Person);
            Shape(svg, person, X(Array.IndexOf(parts, reading.Part), person), Y(Off(reading)));
        }

        for (var k = 0; k < Math.Min(people.Length, 5); k++)
        {
            Shape(svg, k, Left + k * 62, Height - 8);
            svg.Label(people[k].Length > 7 ? people[k][..6] + "…" : people[k], Left + 8 + k * 62, Height - 4);
        }

        svg.Close();
    }

    private static void Shape(Svg svg, int person, double x, double y) => _ = (person % _shapes.Length) switch
    {
        0 => svg.Raw("<circle class=\"ok\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"3\"/>"),
        1 => svg.Raw("<path class=\"ink thin\" d=\"M").N(x - 3).Raw(" ").N(y - 3).Raw("h6v6h-6z\"/>"),
        2 => svg.Raw("<path class=\"ink thin\" d=\"M").N(x - 3).Raw(" ").N(y - 3).Raw("l6 6m0 -6l-6 6\"/>"),
        3 => svg.Raw("<path class=\"ink thin\" d=\"M").N(x - 3.5).Raw(" ").N(y + 3).Raw("h7l-3.5 -6z\"/>"),
        _ => svg.Raw("<circle class=\"ink thin\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"3\"/>"),
    };

    private string InWords(string[] parts, string[] people, double largest)
    {
        var words = people.Select(person =>
            $"{person} reads {Typed.Say(Readings.Where(reading => reading.Person == person).Average(reading => (double)reading.Value!.Value) - Readings.Average(reading => (double)reading.Value!.Value))} off the mean of all");
        return $"{Readings.Count} readings of {parts.Length} parts, at most {Typed.Say(largest)} from their part's mean; {string.Join("; ", words)}";
    }
}
