using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Drawings;

/// <summary>What a title block says about all dimensions, as three questions of a form.</summary>
public sealed record TermsForm(string? Unit, string? GeneralTolerance, bool Welded);

/// <summary>What may be chosen in the forms of parts and revisions.</summary>
public static class PartForm
{
    public static IReadOnlyList<Choice> Hands { get; } = [new("", "no hand"), new("left", "left"), new("right", "right")];

    public static IReadOnlyList<Choice> Units { get; } = [new("mm", "millimetres (mm)"), new("in", "inches (in)")];

    public static IReadOnlyList<string> GeneralTolerances { get; } =
        ["ISO 2768-m", "ISO 2768-mK", "ISO 2768-fH", "ISO 2768-cL", "ISO 13920-AE", "ISO 13920-BF", "ISO 13920-CG"];

    public static IReadOnlyList<Choice> Purposes { get; } =
    [
        new("", "by the type of each file"), new("drawing", "drawing"), new("model", "model"), new("flat pattern", "flat pattern"), new("mask map", "mask map"), new("photo", "photo"), new("other", "other"),
    ];

    /// <summary>A browser can show it; the rest is saved.</summary>
    public static bool ShowsInPage(string fileType) => fileType is "pdf" or "png" or "jpeg";
}
