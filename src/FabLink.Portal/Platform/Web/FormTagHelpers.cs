using System.Globalization;
using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;
using Microsoft.AspNetCore.Mvc.ModelBinding;
using Microsoft.AspNetCore.Mvc.Rendering;
using Microsoft.AspNetCore.Mvc.TagHelpers;
using Microsoft.AspNetCore.Mvc.ViewFeatures;
using Microsoft.AspNetCore.Razor.TagHelpers;

namespace FabLink.Portal.Platform.Web;

/// <summary>One thing that may be chosen.</summary>
public sealed record Choice(string Value, string Label, string? Hint = null);

/// <summary>
/// One question of a form: label, hint, what was wrong, the box. What was typed is kept after an error (never a password).
/// <c>type</c> is any input type, or <c>textarea</c>, <c>select</c>, <c>radio</c>, <c>checkbox</c>, <c>file</c>.
/// Attributes that are not named here go to the box itself (autocomplete, inputmode, accept, min, max …).
/// </summary>
[HtmlTargetElement("field", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class FieldTagHelper : TagHelper
{
    [HtmlAttributeNotBound]
    [ViewContext]
    public ViewContext ViewContext { get; set; } = null!;

    public string Name { get; set; } = "";
    public string Label { get; set; } = "";
    public string? Hint { get; set; }
    /// <summary>Shown behind the box, such as mm or °.</summary>
    public string? Unit { get; set; }
    public object? Value { get; set; }
    public string Type { get; set; } = "text";
    public bool Required { get; set; }
    public int Rows { get; set; } = 4;
    public IEnumerable<Choice>? Choices { get; set; }

    private static string Text(string? value) => value is null ? "" : HtmlEncoder.Default.Encode(value);

    public override async Task ProcessAsync(TagHelperContext context, TagHelperOutput output)
    {
        var inner = await output.GetChildContentAsync();
        var id = output.Attributes["id"]?.Value?.ToString() ?? ElementId(Name);
        var entry = ViewContext.ViewData.ModelState.GetValueOrDefault(Name);
        var errors = entry?.Errors.Select(static e => e.ErrorMessage).Where(static e => e.Length > 0).ToList() ?? [];
        var typed = Type == "password" ? null : entry?.AttemptedValue ?? Written(Value);
        var described = string.Join(' ', new[] { Hint is null ? null : id + "-hint", errors.Count == 0 ? null : id + "-error" }.OfType<string>());
        var passed = output.Attributes.ToList();
        output.Attributes.Clear();

        var box = new TagBuilder(Type switch { "textarea" => "textarea", "select" => "select", _ => "input" });
        foreach (var attribute in passed)
            box.MergeAttribute(attribute.Name, attribute.Value?.ToString() ?? "");
        box.MergeAttribute("id", id);
        box.MergeAttribute("name", Name);
        if (described.Length > 0)
            box.MergeAttribute("aria-describedby", described);
        if (errors.Count > 0)
            box.MergeAttribute("aria-invalid", "true");
        // To a browser the empty value of a required choice is "nothing chosen", and it sends nothing; here it is one of the answers.
        if (Required && Choices?.Any(choice => choice.Value.Length == 0) != true)
            box.MergeAttribute("required", "");

        output.TagName = Type == "radio" ? "fieldset" : "div";
        output.TagMode = TagMode.StartTagAndEndTag;
        output.AddClass("field", HtmlEncoder.Default);
        if (errors.Count > 0)
            output.AddClass("wrong", HtmlEncoder.Default);
        if (Type is "checkbox" or "file" or "textarea")
            output.AddClass(Type, HtmlEncoder.Default);

        var content = output.Content;
        var optional = Required || Type == "checkbox" || Type == "radio" ? "" : " <small>if you have it</small>";
        var label = Type == "radio" ? $"<legend>{Text(Label)}</legend>" : $"<label for=\"{id}\">{Text(Label)}{optional}</label>";
        if (Type == "checkbox")
        {
            Fill(box, typed, inner);
            content.AppendHtml("<span class=\"tick\">").AppendHtml(box).AppendHtml(label).AppendHtml("</span>");
            Notes(content, id, errors);
            return;
        }

        content.AppendHtml(label);
        Notes(content, id, errors);
        if (Type == "radio")
        {
            Radios(content, id, typed, described);
            return;
        }

        Fill(box, typed, inner);
        if (Unit is null)
            content.AppendHtml(box);
        else
            content.AppendHtml("<span class=\"with-unit\">").AppendHtml(box).AppendHtml($"<span>{Text(Unit)}</span></span>");
    }

    /// <summary>The id of the box of a field, the target of the error summary's links.</summary>
    public static string ElementId(string name) => TagBuilder.CreateSanitizedId(name, "-");

    private void Notes(IHtmlContentBuilder content, string id, List<string> errors)
    {
        if (Hint is not null)
            content.AppendHtml($"<p class=\"hint\" id=\"{id}-hint\">{Text(Hint)}</p>");
        if (errors.Count > 0)
            content.AppendHtml($"<p class=\"error\" id=\"{id}-error\">{string.Join("<br>", errors.Select(Text))}</p>");
    }

    private void Fill(TagBuilder box, string? typed, TagHelperContent inner)
    {
        switch (Type)
        {
            case "textarea":
                box.MergeAttribute("rows", Rows.ToString(CultureInfo.InvariantCulture));
                box.InnerHtml.AppendHtml("\n").Append(typed ?? "");
                break;
            case "select":
                box.InnerHtml.AppendHtml(inner);
                foreach (var choice in Choices ?? [])
                    box.InnerHtml.AppendHtml($"<option value=\"{Text(choice.Value)}\"{(choice.Value == typed ? " selected" : "")}>{Text(choice.Label)}</option>");
                break;
            case "checkbox":
                box.MergeAttribute("type", "checkbox");
                box.MergeAttribute("value", "true");
                if (typed is not null && typed.StartsWith("true", StringComparison.OrdinalIgnoreCase))
                    box.MergeAttribute("checked", "");
                break;
            case "file":
                box.MergeAttribute("type", "file");
                break;
            default:
                box.MergeAttribute("type", Type);
                if (typed is not null)
                    box.MergeAttribute("value", typed);
                break;
        }

        box.TagRenderMode = box.TagName == "input" ? TagRenderMode.SelfClosing : TagRenderMode.Normal;
    }

    private void Radios(IHtmlContentBuilder content, string id, string? typed, string described)
    {
        var about = described.Length == 0 ? "" : $" aria-describedby=\"{described}\"";
        var number = 0;
        foreach (var choice in Choices ?? [])
        {
            // The first box carries the plain id, so that the error summary leads to it.
            var own = number++ == 0 ? id : $"{id}-{number}";
            var hint = choice.Hint is null ? "" : $"<small>{Text(choice.Hint)}</small>";
            content.AppendHtml($"<span class=\"tick\"><input type=\"radio\" id=\"{own}\" name=\"{Text(Name)}\" value=\"{Text(choice.Value)}\"{(choice.Value == typed ? " checked" : "")}{(Required ? " required" : "")}{about}><label for=\"{own}\">{Text(choice.Label)}{hint}</label></span>");
        }
    }

    private static string? Written(object? value) => value switch
    {
        null => null,
        bool yes => yes ? "true" : "false",
        DateOnly day => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        DateTimeOffset time => time.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture),
        IFormattable plain => plain.ToString(null, CultureInfo.InvariantCulture),
        _ => value.ToString(),
    };
}

/// <summary>What to change before this can be taken, at the top of the form, each line leading to its field. Nothing when all is well.</summary>
[HtmlTargetElement("error-summary", TagStructure = TagStructure.NormalOrSelfClosing)]
public sealed class ErrorSummaryTagHelper : TagHelper
{
    /// <summary>What stands over the list instead of the count of things to change.</summary>
    public string? Heading { get; set; }

    [HtmlAttributeNotBound]
    [ViewContext]
    public ViewContext ViewContext { get; set; } = null!;

    public override void Process(TagHelperContext context, TagHelperOutput output)
    {
        var errors = ViewContext.ViewData.ModelState
            .SelectMany(static field => field.Value?.Errors.Select(error => (field.Key, error.ErrorMessage)) ?? [])
            .Where(static error => error.ErrorMessage.Length > 0)
            .Distinct()
            .ToList();
        if (errors.Count == 0)
        {
            output.SuppressOutput();
            return;
        }

        output.TagName = "div";
        output.TagMode = TagMode.StartTagAndEndTag;
        output.AddClass("errors", HtmlEncoder.Default);
        output.Attributes.SetAttribute("role", "alert");
        output.Attributes.SetAttribute("tabindex", "-1");
        var heading = Heading ?? (errors.Count == 1 ? "One thing to change" : $"{errors.Count} things to change");
        output.Content.AppendHtml($"<h2>{HtmlEncoder.Default.Encode(heading)}</h2><ul>");
        foreach (var (field, message) in errors)
        {
            var words = HtmlEncoder.Default.Encode(message);
            output.Content.AppendHtml(field.Length == 0 ? $"<li>{words}</li>" : $"<li><a href=\"#{FieldTagHelper.ElementId(field)}\">{words}</a></li>");
        }

        output.Content.AppendHtml("</ul>");
    }
}
