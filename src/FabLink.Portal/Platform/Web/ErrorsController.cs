using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Platform.Web;

/// <summary>What could not be shown, and what to do about it.</summary>
public sealed record ErrorSheet(int Code, string Headline, string Advice, string Reference)
{
    public static ErrorSheet For(int code, string reference) => code switch
    {
        400 => new(code, "This could not be taken", "The page was open too long or was sent twice. Go back, load it again and send it again; what you typed is still there.", reference),
        401 => new(code, "Sign in first", "This page is for people who are signed in. Use the link in your mail, or sign in.", reference),
        403 => new(code, "Not yours to do", "Your organisation or your role may not do this. If you think you should, ask the person who gave you the work order.", reference),
        404 => new(code, "There is no such sheet", "It is not there, or it belongs to another organisation. Check the number, or begin from the first page.", reference),
        409 => new(code, "Somebody was faster", "This was changed while you had it open. Load the page again to see what changed, then decide.", reference),
        413 => new(code, "The file is too large", "Send a smaller file, or split it into several.", reference),
        429 => new(code, "Too many at once", "Wait a minute, then try again.", reference),
        503 => new(code, "Others were at the same pieces", "Nothing was written down. Send it again: go back, what you typed is still there.", reference),
        >= 500 => new(code, "The portal failed, not you", "Nothing was half done: either all of it was written down or none. Try again; if it fails again, tell us the reference.", reference),
        _ => new(code, "This could not be shown", "Go back and try again.", reference),
    };
}

/// <summary>Every refusal and every fault ends here, whatever the verb was.</summary>
[AllowAnonymous]
[IgnoreAntiforgeryToken]
[ResponseCache(NoStore = true, Location = ResponseCacheLocation.None)]
[ApiExplorerSettings(IgnoreApi = true)]
public sealed class ErrorsController : Controller
{
    [Route("/error/{code:int:range(400,599)}")]
    public IActionResult Show(int code)
    {
        Response.StatusCode = code;
        ViewData["Bare"] = code >= 500;
        return View("Error", ErrorSheet.For(code, HttpContext.TraceIdentifier));
    }
}
