using FabLink.Portal.Platform.People;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;

namespace FabLink.Portal.Platform.Web;

/// <summary>
/// The coarse gate of a route: signed in, and allowed this deed in some relation. Which row it may be is decided in the handler
/// (<see cref="Permissions"/>) and by the database. Every action carries one, or says that anybody may come; a test holds this.
/// </summary>
[AttributeUsage(AttributeTargets.Class | AttributeTargets.Method)]
public sealed class MayAttribute(Deed deed) : Attribute, IAuthorizationFilter
{
    public Deed Deed { get; } = deed;

    public void OnAuthorization(AuthorizationFilterContext context)
    {
        if (Actor.From(context.HttpContext.User) is not { } actor)
            context.Result = new ChallengeResult();
        else if (!actor.MayAnywhere(Deed))
            context.Result = new ForbidResult();
    }
}
