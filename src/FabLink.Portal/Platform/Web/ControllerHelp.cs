using FluentValidation;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Platform.Web;

/// <summary>The few things that every controller does the same way.</summary>
public static class ControllerHelp
{
    /// <summary>Runs the validator and puts what it finds beside the fields. True when there is nothing to say.</summary>
    public static bool Passes<T>(this Controller controller, IValidator<T> validator, T request)
    {
        // What could not be read is not there; that it is missing would be one complaint too many.
        var unread = controller.ModelState.Where(entry => entry.Value?.Errors.Count > 0).Select(entry => entry.Key).ToHashSet();
        foreach (var failure in validator.Validate(request).Errors.Where(failure => !unread.Contains(failure.PropertyName)))
            controller.ModelState.AddModelError(failure.PropertyName, failure.ErrorMessage);
        return controller.ModelState.IsValid;
    }

    /// <summary>Says one sentence on the next page.</summary>
    public static void Say(this Controller controller, string sentence) => controller.TempData["Said"] = sentence;
}
