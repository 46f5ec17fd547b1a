using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>What a value was judged to be; <see cref="None"/> while there is no value.</summary>
public enum Mark { None, Conforms, NotProven, DoesNotConform }

/// <summary>A verdict as mark and word: <c>@(new VerdictWord(Mark.Conforms))</c>.</summary>
public sealed record VerdictWord(Mark Mark, string? Word = null) : IHtmlContent
{
    public static string Of(Mark mark) => mark switch
    {
        Mark.Conforms => "conforms",
        Mark.NotProven => "not proven",
        Mark.DoesNotConform => "does not conform",
        _ => "not measured",
    };

    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        var style = Mark switch { Mark.Conforms => "ok", Mark.NotProven => "np", Mark.DoesNotConform => "no", _ => "none" };
        svg.Raw("<span class=\"verdict ").Raw(style).Raw("\">");
        if (Mark != Mark.None)
        {
            svg.Raw("<svg class=\"pic\" aria-hidden=\"true\" width=\"12\" height=\"12\">");
            svg.Mark(Mark, 6, 6, 4.5);
            svg.Close();
        }

        svg.Text(Word ?? Of(Mark)).Raw("</span>");
    }
}
