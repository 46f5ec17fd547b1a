using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Platform.Web;

/// <summary>What was just done, said once on the page after the redirect.</summary>
public static class SaidExtensions
{
    public const string Key = "Said";

    /// <summary>One plain sentence, such as "Report taken: 14 values, 2 do not conform."</summary>
    public static void Said(this Controller controller, string sentence) => controller.TempData[Key] = sentence;
}
