using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.RateLimiting;

namespace FabLink.Portal.Features.SignIn;

/// <summary>By a mailed link that stays on the device, or by a password for who wants one.</summary>
[Route("sign-in")]
[EnableRateLimiting("sign-in")]
public sealed class SignInController(SignInManager<SignInPerson> signIn, UserManager<SignInPerson> people, SignInLinks links) : Controller
{
    /// <summary>The page alone guesses nothing: a whole shop behind one address may open it.</summary>
    [HttpGet("")]
    [AllowAnonymous]
    [DisableRateLimiting]
    public IActionResult Index(string? to) =>
        Actor.From(User) is null ? View(new PasswordForm("", "", Local(to))) : LocalRedirect(Local(to));

    [HttpPost("")]
    [AllowAnonymous]
    public async Task<IActionResult> Index(PasswordForm form)
    {
        var person = await people.FindByEmailAsync(form.Email?.Trim() ?? "");
        // The same work and the same words whether the address is known or not.
        var result = person?.PasswordHash is null
            ? await PretendAsync(form.Password ?? "")
            : await signIn.PasswordSignInAsync(person, form.Password ?? "", isPersistent: true, lockoutOnFailure: true);
        if (result.Succeeded)
            return LocalRedirect(Local(form.To));
        ModelState.AddModelError(
            nameof(form.Password),
            result.IsLockedOut
                ? "Too many wrong passwords. Wait ten minutes, or have a link mailed to you."
                : "This address and password do not belong together. Try again, or have a link mailed to you.");
        return View(form with { Password = "" });
    }

    [HttpPost("mail")]
    [AllowAnonymous]
    public async Task<IActionResult> Mail(PasswordForm form, CancellationToken cancellation)
    {
        if (string.IsNullOrWhiteSpace(form.Email))
        {
            ModelState.AddModelError(nameof(form.Email), "Type the address the link shall go to.");
            return View("Index", form);
        }
        await links.OweAsync(form.Email, Local(form.To), cancellation);
        return View("Mailed", form.Email.Trim());
    }

    [HttpGet("link/{token}")]
    [AllowAnonymous]
    public async Task<IActionResult> Link(string token, CancellationToken cancellation)
    {
        var opened = await links.LookAsync(token, cancellation);
        // Whoever is signed in already goes where the mail leads, whether the link is good still or not.
        if (Actor.From(User) is { } actor && await links.OfAsync(token, cancellation) is { } own && own.PersonId == actor.PersonId)
            return LocalRedirect(Local(own.Path));
        var person = opened is null ? null : await people.FindByIdAsync(opened.PersonId.ToString());
        return person is null
            ? View("LinkIsOver", new PasswordForm("", "", "/"))
            : View("Link", new LinkPage(token, person.Name, person.OrganisationName));
    }

    [HttpPost("link/{token}")]
    [AllowAnonymous]
    public async Task<IActionResult> UseLink(string token, CancellationToken cancellation)
    {
        var opened = await links.UseAsync(token, cancellation);
        if (opened is null || await people.FindByIdAsync(opened.PersonId.ToString()) is not { } person)
            return View("LinkIsOver", new PasswordForm("", "", "/"));
        await signIn.SignInAsync(person, isPersistent: true);
        return LocalRedirect(Local(opened.Path));
    }

    [HttpPost("/sign-out")]
    [AllowAnonymous]
    public async Task<IActionResult> Leave()
    {
        await signIn.SignOutAsync();
        this.Say("You are signed out on this device.");
        return RedirectToAction(nameof(Index));
    }

    [HttpGet("password")]
    [May(Deed.SeeNotices)]
    public IActionResult Password() => View(new NewPasswordForm("", ""));

    [HttpPost("password")]
    [May(Deed.SeeNotices)]
    public async Task<IActionResult> Password(NewPasswordForm form)
    {
        if (await people.GetUserAsync(User) is not { } person)
            return Challenge();
        if (person.PasswordHash is not null && !await people.CheckPasswordAsync(person, form.Old ?? ""))
        {
            ModelState.AddModelError(nameof(form.Old), "This is not the password you have now.");
            return View(form);
        }
        foreach (var check in people.PasswordValidators)
        {
            if (!(await check.ValidateAsync(people, person, form.New)).Succeeded)
            {
                ModelState.AddModelError(nameof(form.New), "A password has at least 12 characters.");
                return View(form);
            }
        }
        person.PasswordHash = people.PasswordHasher.HashPassword(person, form.New);
        // A new stamp ends every other session of this person.
        await people.UpdateSecurityStampAsync(person);
        await signIn.RefreshSignInAsync(person);
        this.Say("The password is changed; every other device is signed out.");
        return RedirectToAction(nameof(Password));
    }

    [HttpPost("everywhere-out")]
    [May(Deed.SeeNotices)]
    public async Task<IActionResult> EverywhereOut()
    {
        if (await people.GetUserAsync(User) is { } person)
            await people.UpdateSecurityStampAsync(person);
        await signIn.SignOutAsync();
        this.Say("You are signed out on every device.");
        return RedirectToAction(nameof(Index));
    }

    public sealed record PasswordForm(string Email, string Password, string To);

    public sealed record NewPasswordForm(string Old, string New);

    public sealed record LinkPage(string Token, string Name, string Organisation);

    private string Local(string? to) => Url.IsLocalUrl(to) ? to : "/";

    /// <summary>Hashes as long as a real check would, so that time does not tell which addresses exist.</summary>
    private async Task<Microsoft.AspNetCore.Identity.SignInResult> PretendAsync(string password)
    {
        await Task.Yield();
        people.PasswordHasher.HashPassword(new SignInPerson(), password);
        return Microsoft.AspNetCore.Identity.SignInResult.Failed;
    }
}
