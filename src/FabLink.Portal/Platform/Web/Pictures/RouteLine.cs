using System.Text.Encodings.Web;
using Microsoft.AspNetCore.Html;

namespace FabLink.Portal.Platform.Web.Pictures;

/// <summary>
/// The state of a step as a line type of ISO 128-2: continuous wide, continuous narrow (with arrow), dashed,
/// long-dashed dotted, continuous narrow with zigzags. What was planned of a piece that is over is drawn as planned and said to be not done.
/// </summary>
public enum LineType { Planned, InWork, Outside, Held, Done, NotDone }

/// <summary>One step of a route: its name over the line, words and dates under it, where it is or was done.</summary>
public sealed record RouteStep(string Name, LineType Line, string Under, string? Href = null);

/// <summary>The route of a piece as a row of lines; a column on a phone. It is an ordered list, so it reads aloud as it looks.</summary>
public sealed record RouteLine(IReadOnlyList<RouteStep> Steps, string Label = "Route") : IHtmlContent
{
    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        var svg = new Svg(writer, encoder);
        svg.Raw("<ol class=\"route\" aria-label=\"").Text(Label).Raw("\">");
        foreach (var step in Steps)
        {
            svg.Raw(step.Line == LineType.Held ? "<li class=\"held\"><span class=\"name\">" : "<li><span class=\"name\">");
            if (step.Href is null)
                svg.Text(step.Name);
            else
                svg.Raw("<a href=\"").Text(step.Href).Raw("\">").Text(step.Name).Raw("</a>");
            svg.Raw("</span>").Raw(LineSwatch.Stretched(step.Line)).Raw("<span class=\"under\">").Text(step.Under).Raw("</span></li>");
        }

        svg.Raw("</ol>");
    }
}

/// <summary>Constant markup of the line types: nothing is computed per cell of a board.</summary>
public static class LineSwatch
{
    private static readonly string[] Paths =
    [
        "<path class=\"l planned\" d=\"M0 6H44\"/>",
        "<path class=\"l inwork\" d=\"M0 6H42M36 2l7 4-7 4\"/>",
        "<path class=\"l outside\" d=\"M0 6H44\"/>",
        "<path class=\"l held\" d=\"M0 6h8l4-5 7 10 7-10 4 5h14\"/>",
        "<path class=\"l done\" d=\"M0 6H44\"/>",
        "<path class=\"l planned\" d=\"M0 6H44\"/>",
    ];

    private static readonly string[] Lines =
    [
        "<line class=\"l planned\" x1=\"0\" y1=\"9\" x2=\"100%\" y2=\"9\"/>",
        "<line class=\"l inwork\" x1=\"0\" y1=\"9\" x2=\"100%\" y2=\"9\"/><svg x=\"100%\" y=\"9\" overflow=\"visible\"><path class=\"l inwork\" d=\"M-9-5L-1 0-9 5\"/></svg>",
        "<line class=\"l outside\" x1=\"0\" y1=\"9\" x2=\"100%\" y2=\"9\"/>",
        "<path class=\"l held\" d=\"M0 9h6l5-7 9 14 9-14 9 14 5-7h6\"/><line class=\"l held\" x1=\"48\" y1=\"9\" x2=\"100%\" y2=\"9\"/>",
        "<line class=\"l done\" x1=\"0\" y1=\"9\" x2=\"100%\" y2=\"9\"/>",
        "<line class=\"l planned\" x1=\"0\" y1=\"9\" x2=\"100%\" y2=\"9\"/>",
    ];

    private static readonly HtmlString[] Named = [.. Paths.Select(static (path, line) =>
        new HtmlString($"<svg class=\"pic ln\" role=\"img\" aria-label=\"{Word((LineType)line)}\" width=\"44\" height=\"12\">{path}</svg>"))];

    private static readonly HtmlString[] Silent = [.. Paths.Select(static path =>
        new HtmlString($"<svg class=\"pic ln\" aria-hidden=\"true\" width=\"44\" height=\"12\">{path}</svg>"))];

    private static readonly string[] Wide = [.. Lines.Select(static (line, type) =>
        $"<svg class=\"pic stretch\" role=\"img\" aria-label=\"{Word((LineType)type)}\" width=\"100%\" height=\"18\">{line}</svg>")];

    public static string Word(LineType line) => line switch
    {
        LineType.Done => "done",
        LineType.InWork => "in work",
        LineType.Planned => "planned",
        LineType.Outside => "at an outside process",
        LineType.NotDone => "not done",
        _ => "held",
    };

    /// <summary>The line with its word as text alternative, for a cell where only a date stands beside it.</summary>
    public static HtmlString For(LineType line) => Named[(int)line];

    /// <summary>The line alone, where its word stands beside it.</summary>
    public static HtmlString Beside(LineType line) => Silent[(int)line];

    internal static string Stretched(LineType line) => Wide[(int)line];
}

/// <summary>What the lines and marks on this sheet mean: <c>@(new Key())</c>, once at the foot.</summary>
public sealed record Key(bool Lines = true, bool Marks = false) : IHtmlContent
{
    public void WriteTo(TextWriter writer, HtmlEncoder encoder)
    {
        writer.Write("<ul class=\"key\" aria-label=\"Key\">");
        if (Lines)
        {
            foreach (var line in (ReadOnlySpan<LineType>)[LineType.Done, LineType.InWork, LineType.Planned, LineType.Outside, LineType.Held])
            {
                writer.Write("<li>");
                writer.Write(LineSwatch.Beside(line).Value);
                writer.Write(LineSwatch.Word(line));
                writer.Write("</li>");
            }
        }

        if (Marks)
        {
            writer.Write("<li><svg class=\"pic\" aria-hidden=\"true\" width=\"34\" height=\"16\"><path class=\"ink\" d=\"M6 1H1V15H6M28 1H33V15H28\"/></svg>tolerance zone</li>");
            foreach (var mark in (ReadOnlySpan<Mark>)[Mark.Conforms, Mark.NotProven, Mark.DoesNotConform])
            {
                writer.Write("<li>");
                new VerdictWord(mark).WriteTo(writer, encoder);
                writer.Write("</li>");
            }

            writer.Write("<li><svg class=\"pic\" aria-hidden=\"true\" width=\"28\" height=\"12\"><path class=\"np line\" d=\"M1 6H27M1 2v8M27 2v8\"/></svg>uncertainty</li>");
        }

        writer.Write("</ul>");
    }
}
