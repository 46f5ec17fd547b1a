using FabLink.Portal.Platform.Mail;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;

namespace FabLink.Portal.Features.Demo;

/// <summary>The mail of the demo, readable by anybody: without a mail server it goes nowhere else. Not there when a mail server is set.</summary>
[Route("demo/mail")]
[AllowAnonymous]
public sealed class DemoMailController(IServiceProvider services, IConfiguration configuration) : Controller
{
    [HttpGet("")]
    public IActionResult Index() =>
        configuration.GetValue<bool>("Demo:Seed") && services.GetService<MailSink>() is { } sink ? View(sink.Mails) : NotFound();
}
