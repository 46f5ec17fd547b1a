using System.Globalization;
using System.Text.Encodings.Web;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>Writes SVG straight to the page: numbers with two decimals and a point, texts encoded.</summary>
internal readonly struct Svg(TextWriter writer, HtmlEncoder encoder)
{
    /// <summary>Opens a picture that says in words what it shows.</summary>
    public void Open(string style, double width, double height, string words)
    {
        Raw("<svg class=\"").Raw(style).Raw("\" role=\"img\" viewBox=\"0 0 ").N(width).Raw(" ").N(height).Raw("\" width=\"").N(width)
            .Raw("\" height=\"").N(height).Raw("\" aria-label=\"").Text(words).Raw("\">");
    }

    public void Close() => writer.Write("</svg>");

    public Svg Raw(string markup)
    {
        writer.Write(markup);
        return this;
    }

    public Svg Text(string words)
    {
        encoder.Encode(writer, words);
        return this;
    }

    public Svg N(double number)
    {
        Span<char> digits = stackalloc char[32];
        // Half a hundredth of a pixel shows nothing; "-0" would be three characters for nothing.
        var rounded = Math.Round(number, 2);
        if (rounded.TryFormat(digits, out var length, "0.##", CultureInfo.InvariantCulture) && rounded != 0)
            writer.Write(digits[..length]);
        else
            writer.Write('0');
        return this;
    }

    /// <summary>The mark of a verdict: filled disc conforms, open disc not proven, diamond does not conform.</summary>
    public Svg Mark(Mark mark, double x, double y, double size = 5)
    {
        switch (mark)
        {
            case Pictures.Mark.Conforms:
                return Raw("<circle class=\"ok\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"").N(size).Raw("\"/>");
            case Pictures.Mark.NotProven:
                return Raw("<circle class=\"np\" cx=\"").N(x).Raw("\" cy=\"").N(y).Raw("\" r=\"").N(size - 0.5).Raw("\"/>");
            case Pictures.Mark.DoesNotConform:
                var d = size + 1;
                return Raw("<path class=\"no\" d=\"M").N(x - d).Raw(" ").N(y).Raw("l").N(d).Raw(" ").N(-d).Raw(" ").N(d).Raw(" ").N(d)
                    .Raw(" ").N(-d).Raw(" ").N(d).Raw("z\"/>");
            default:
                return this;
        }
    }

    public Svg Line(string style, double x1, double y1, double x2, double y2) =>
        Raw("<path class=\"").Raw(style).Raw("\" d=\"M").N(x1).Raw(" ").N(y1).Raw("L").N(x2).Raw(" ").N(y2).Raw("\"/>");

    public Svg Label(string words, double x, double y, string style = "t", string anchor = "start") =>
        Raw("<text class=\"").Raw(style).Raw("\" x=\"").N(x).Raw("\" y=\"").N(y).Raw("\" text-anchor=\"").Raw(anchor).Raw("\">").Text(words).Raw("</text>");

    /// <summary>A line with an open arrow head at its end.</summary>
    public Svg Arrow(string style, double x1, double y1, double x2, double y2, double head = 6)
    {
        Line(style, x1, y1, x2, y2);
        var length = Math.Sqrt((x2 - x1) * (x2 - x1) + (y2 - y1) * (y2 - y1));
        if (length < 1)
            return this;
        var (ux, uy) = ((x2 - x1) / length, (y2 - y1) / length);
        head = Math.Min(head, length * 0.6);
        return Raw("<path class=\"").Raw(style).Raw("\" d=\"M").N(x2 - head * (ux - uy / 2.2)).Raw(" ").N(y2 - head * (uy + ux / 2.2))
            .Raw("L").N(x2).Raw(" ").N(y2).Raw("L").N(x2 - head * (ux + uy / 2.2)).Raw(" ").N(y2 - head * (uy - ux / 2.2)).Raw("\"/>");
    }

    /// <summary>A number as a person writes it, without trailing zeros.</summary>
    public static string Say(double number) => Math.Round(number, 6).ToString("0.######", CultureInfo.InvariantCulture);
}
