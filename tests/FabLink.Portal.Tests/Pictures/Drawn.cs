using System.Text.Encodings.Web;
using AngleSharp.Dom;
using AngleSharp.Html.Parser;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Tests.Pictures;

internal static class Drawn
{
    /// <summary>The first element of what a picture writes, as a browser would read it.</summary>
    public static IElement Of(IHtmlContent picture)
    {
        using var writer = new StringWriter();
        picture.WriteTo(writer, HtmlEncoder.Default);
        var document = new HtmlParser().ParseDocument(writer.ToString());
        return document.Body!.FirstElementChild!;
    }
}
