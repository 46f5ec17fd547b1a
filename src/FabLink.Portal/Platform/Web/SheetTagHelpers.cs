using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Antiforgery;
using Microsoft.AspNetCore.Mvc.Rendering;
using Microsoft.AspNetCore.Mvc.TagHelpers;
using Microsoft.AspNetCore.Mvc.ViewFeatures;
using Microsoft.AspNetCore.Razor.TagHelpers;

namespace FabLink.Portal.Platform.Web;

/// <summary>The head of a sheet: which part, revision, piece, order and dates this page is. Holds any number of cells; repeats on each printed paper.</summary>
[HtmlTargetElement("title-block", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class TitleBlockTagHelper : TagHelper
{
    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "header";
        output.AddClass("title-block", HtmlEncoder.Default);
        output.TagMode = TagMode.StartTagAndEndTag;
        output.PreContent.SetHtmlContent("<dl>");
        output.PostContent.SetHtmlContent("</dl>");
    }
}

/// <summary>One labelled value of a title block; the first one, set big, is what the sheet is about.</summary>
[HtmlTargetElement("cell", ParentTag = "title-block")]
public sealed class CellTagHelper : TagHelper
{
    public string Label { get; set; } = "";
    public bool Big { get; set; }

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "div";
        if (Big)
            output.AddClass("big", HtmlEncoder.Default);
        output.PreContent.SetHtmlContent($"<dt>{HtmlEncoder.Default.Encode(Label)}</dt><dd>");
        output.PostContent.SetHtmlContent("</dd>");
    }
}

/// <summary>How a sentence stands: an ordinary fact, something that needs a person, something proven.</summary>
public enum Tone { Plain, Stop, Good }

/// <summary>What is true and what to do, said first, with one or two actions (an <c>act</c> element inside).</summary>
[HtmlTargetElement("say")]
public sealed class SayTagHelper : TagHelper
{
    public string Headline { get; set; } = "";
    public Tone Tone { get; set; }

    /// <summary>The portal itself is at it: while true the sentence asks for itself anew every two seconds and is read out when it changes. Null: it never does.</summary>
    public bool? Again { get; set; }

    /// <summary>What else of the page is brought with it, as selectors of ids.</summary>
    public string With { get; set; } = "";

    public override async Task ProcessAsync(TagHelperContext context, TagHelperOutput output)
    {
        var acts = new TagHelperActs();
        context.Items[typeof(TagHelperActs)] = acts;
        var words = await output.GetChildContentAsync();
        output.TagName = "section";
        output.AddClass("say", HtmlEncoder.Default);
        if (Tone != Tone.Plain)
            output.AddClass(Tone == Tone.Stop ? "stop" : "good", HtmlEncoder.Default);
        if (Again is { } again)
        {
            output.PreElement.SetHtmlContent("<div id=\"stands\" aria-live=\"polite\">");
            output.PostElement.SetHtmlContent("</div>");
            if (again)
            {
                foreach (var (name, value) in new[] { ("hx-get", ""), ("hx-trigger", "every 2s"), ("hx-target", "#stands"), ("hx-select", "#stands > *"), ("hx-select-oob", With) })
                    output.Attributes.SetAttribute(name, value);
            }
        }

        output.PreContent.SetHtmlContent($"<div class=\"words\"><h1>{HtmlEncoder.Default.Encode(Headline)}</h1>");
        if (!words.IsEmptyOrWhiteSpace)
        {
            output.Content.AppendHtml("<p>");
            output.Content.AppendHtml(words);
            output.Content.AppendHtml("</p>");
        }

        output.PostContent.SetHtmlContent("</div>");
        if (acts.Actions.Count == 0)
            return;
        output.PostContent.AppendHtml("<div class=\"act\">");
        foreach (var act in acts.Actions)
            output.PostContent.AppendHtml(act);
        output.PostContent.AppendHtml("</div>");
    }
}

internal sealed class TagHelperActs
{
    public List<Microsoft.AspNetCore.Html.IHtmlContent> Actions { get; } = [];
}

/// <summary>The one or two things to do about it: links with class <c>button</c>, or small forms.</summary>
[HtmlTargetElement("act", ParentTag = "say")]
public sealed class ActTagHelper : TagHelper
{
    public override async Task ProcessAsync(TagHelperContext context, TagHelperOutput output)
    {
        ((TagHelperActs)context.Items[typeof(TagHelperActs)]).Actions.Add(await output.GetChildContentAsync());
        output.SuppressOutput();
    }
}

/// <summary>The ringed number of a characteristic, as on the drawing.</summary>
[HtmlTargetElement("balloon")]
public sealed class BalloonTagHelper : TagHelper
{
    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        output.TagName = "span";
        output.AddClass("balloon", HtmlEncoder.Default);
    }
}

/// <summary>Every form that posts carries its token, whatever its action is.</summary>
[HtmlTargetElement("form", Attributes = "method")]
public sealed class PostFormTagHelper(IAntiforgery antiforgery) : TagHelper
{
    [HtmlAttributeNotBound]
    [ViewContext]
    public ViewContext ViewContext { get; set; } = null!;

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        if (!string.Equals(output.Attributes["method"]?.Value?.ToString(), "post", StringComparison.OrdinalIgnoreCase))
            return;
        var token = antiforgery.GetAndStoreTokens(ViewContext.HttpContext);
        output.PreContent.AppendHtml($"<input type=\"hidden\" name=\"{token.FormFieldName}\" value=\"{token.RequestToken}\">");
    }
}

/// <summary>Where in a long list this page is, with links to the one before and after. <c>href</c> holds {0} for the page number.</summary>
[HtmlTargetElement("pages", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class PagesTagHelper : TagHelper
{
    /// <summary>From 1.</summary>
    public int Current { get; set; }
    public int Size { get; set; } = 100;
    public long Total { get; set; }
    public string Href { get; set; } = "?page={0}";

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        var last = (int)Math.Max(1, (Total + Size - 1) / Size);
        var from = Total == 0 ? 0 : (Current - 1L) * Size + 1;
        output.TagName = "nav";
        output.TagMode = TagMode.StartTagAndEndTag;
        output.AddClass("pages", HtmlEncoder.Default);
        output.Attributes.SetAttribute("aria-label", "Pages");
        output.Content.AppendHtml($"<span>{from} to {Math.Min((long)Current * Size, Total)} of {Total}</span>");
        if (Current > 1)
            Link(output, Current - 1, "prev", "before");
        if (Current < last)
            Link(output, Current + 1, "next", "after");
    }

    private void Link(TagHelperOutput output, int page, string relation, string word) => output.Content.AppendHtml(
        $"<a rel=\"{relation}\" href=\"{HtmlEncoder.Default.Encode(string.Format(System.Globalization.CultureInfo.InvariantCulture, Href, page))}\">page {word}</a>");
}
