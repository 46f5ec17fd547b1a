using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Drawings;

/// <summary>What the controllers of this noun answer alike.</summary>
internal static class DrawingPages
{
    /// <summary>The same form with what was typed and what to change in it.</summary>
    public static ViewResult Again(this Controller controller, string view, object model)
    {
        var again = controller.View(view, model);
        again.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return again;
    }

    public static RedirectResult WasReleased(this Controller controller, Guid revision, Changed change)
    {
        controller.Say($"Nothing was changed: {change.By} released this revision on {Words.DayAndTime(change.At)}.");
        return controller.Redirect($"/revisions/{revision}");
    }
}

/// <summary>Days, times and sizes as people here read them.</summary>
internal static class Words
{
    public static string Day(DateTimeOffset at) => LocalTime.Day(at);

    public static string DayAndTime(DateTimeOffset at) => LocalTime.Time(at);

    /// <summary>The name of a part with its hand, which many names say already.</summary>
    public static string Handed(string name, string? hand) =>
        hand is null || name.Contains(hand, StringComparison.OrdinalIgnoreCase) ? name : $"{name}, {hand}";

    public static string Size(long bytes) => bytes < 1024 * 1024 ? $"{Math.Max(1, bytes / 1024)} kB" : $"{bytes / (1024.0 * 1024):0.0} MB";
}
