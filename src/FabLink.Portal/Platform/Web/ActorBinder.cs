using FabLink.Portal.Platform.People;
using Microsoft.AspNetCore.Mvc.ModelBinding;
using Microsoft.AspNetCore.Mvc.ModelBinding.Validation;

namespace FabLink.Portal.Platform.Web;

/// <summary>Gives an action its <see cref="Actor"/> as a parameter; it comes from the sign-in and from nowhere else.</summary>
public sealed class ActorBinder : IModelBinder, IModelBinderProvider
{
    public IModelBinder? GetBinder(ModelBinderProviderContext context) =>
        context.Metadata.ModelType == typeof(Actor) ? this : null;

    public Task BindModelAsync(ModelBindingContext bindingContext)
    {
        bindingContext.Result = Actor.From(bindingContext.HttpContext.User) is { } actor
            ? ModelBindingResult.Success(actor)
            : ModelBindingResult.Failed();
        bindingContext.ValidationState[bindingContext.Result.Model ?? bindingContext] = new ValidationStateEntry { SuppressValidation = true };
        return Task.CompletedTask;
    }
}
