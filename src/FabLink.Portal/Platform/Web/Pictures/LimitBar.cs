using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>
/// Where a measured value lies: brackets are the tolerance zone, the mark is the value, the whisker its expanded uncertainty.
/// All numbers in one unit; a limit that is null does not exist. A value off the scale is drawn at its end with an arrow.
/// Write it with <c>@(new LimitBar(…))</c>.
/// </summary>
/// <param name="Words">Says the picture in words where the plain numbers would not do, such as 93°06′.</param>
public sealed record LimitBar(
    double? Lower, double? Upper, double? Value, double? Uncertainty, Mark Mark, string Unit = "", string? Words = null) : IHtmlContent
{
    public const double Width = 200, Height = 22;
    private const double Left = 60, Right = 140, Middle = Height / 2, Edge = 12;

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        svg.Open("pic bar", Width, Height, Words ?? InWords());
        svg.Line("hair", 0, Middle, Width, Middle);
        var (origin, span) = Scale();
        double At(double value) => Left + (value - origin) / span * (Right - Left);

        if (Lower is not null)
            svg.Raw("<path class=\"ink\" d=\"M66 2H60V20H66\"/>");
        else if (Upper > 0)
            svg.Raw("<path class=\"hair\" d=\"M60 6V16\"/>");
        if (Upper is not null)
            svg.Raw("<path class=\"ink\" d=\"M134 2H140V20H134\"/>");

        if (Value is { } value)
            Draw(svg, At(value), Math.Abs(Uncertainty ?? 0) / span * (Right - Left));
        svg.Close();
    }

    private void Draw(Svg svg, double x, double reach)
    {
        if (x is < Edge or > Width - Edge)
        {
            var (end, tip) = x < Edge ? (Edge + 2, 2) : (Width - Edge - 2, Width - 2);
            var back = x < Edge ? 5.0 : -5.0;
            svg.Raw("<path class=\"").Raw(Style).Raw(" line\" d=\"M").N(tip + back).Raw(" 7L").N(tip).Raw(" 11L").N(tip + back).Raw(" 15\"/>");
            svg.Mark(Mark, end, Middle);
            return;
        }

        var (from, to) = (Math.Max(0, x - reach), Math.Min(Width, x + reach));
        if (reach >= 0.5)
        {
            svg.Raw("<path class=\"").Raw(Style).Raw(" line\" d=\"M").N(from).Raw(" 11H").N(to);
            if (x - reach >= 0)
                svg.Raw("M").N(from).Raw(" 7v8");
            if (x + reach <= Width)
                svg.Raw("M").N(to).Raw(" 7v8");
            svg.Raw("\"/>");
        }

        svg.Mark(Mark, x, Middle);
    }

    private string Style => Mark switch { Mark.Conforms => "ok", Mark.DoesNotConform => "no", _ => "np" };

    /// <summary>Value at the left bracket and width of the zone. A zone with one limit has no width of its own: from zero to the limit, or once the limit again.</summary>
    private (double Origin, double Span) Scale()
    {
        var (origin, span) = (Lower, Upper) switch
        {
            ({ } low, { } high) => (low, high - low),
            (null, { } high) when high > 0 => (0, high),
            (null, { } high) => (high - Room(high), Room(high)),
            ({ } low, null) => (low, Room(low)),
            _ => ((Value ?? 0) - 0.5, 1),
        };
        // Two equal limits leave no zone; the uncertainty, or one unit, keeps the picture finite.
        return span > 0 && double.IsFinite(span) ? (origin, span) : (origin - 0.5, 1);
    }

    private double Room(double limit) =>
        Math.Abs(limit) > 0 ? Math.Abs(limit) : Math.Max(Math.Abs(Value ?? 0), Math.Max(Math.Abs(Uncertainty ?? 0), 1e-9));

    private string InWords()
    {
        var unit = Unit.Length == 0 ? "" : " " + Unit;
        var zone = (Lower, Upper) switch
        {
            ({ } low, { } high) => $"limits {Svg.Say(low)} to {Svg.Say(high)}{unit}",
            (null, { } high) => $"limit at most {Svg.Say(high)}{unit}",
            ({ } low, null) => $"limit at least {Svg.Say(low)}{unit}",
            _ => "no limits",
        };
        if (Value is not { } value)
            return $"not measured; {zone}";
        var doubt = Uncertainty is > 0 ? $" ± {Svg.Say(Uncertainty.Value)}" : "";
        var off = value > Upper ? $", {Svg.Say(value - Upper.Value)}{unit} over" : value < Lower ? $", {Svg.Say(Lower.Value - value)}{unit} under" : "";
        return $"{Svg.Say(value)}{doubt}{unit}; {zone}{off}: {VerdictWord.Of(Mark)}";
    }
}
