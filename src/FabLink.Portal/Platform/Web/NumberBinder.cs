using FabLink.Engineering.Quantities;
using Microsoft.AspNetCore.Mvc.ModelBinding;

namespace FabLink.Portal.Platform.Web;

/// <summary>Numbers of forms are read as everywhere else: a point or a comma is the decimal mark, digits are never grouped. The framework would take a comma for grouping.</summary>
public sealed class NumberBinder : IModelBinder, IModelBinderProvider
{
    public IModelBinder? GetBinder(ModelBinderProviderContext context) =>
        context.Metadata.UnderlyingOrModelType == typeof(decimal) ? this : null;

    public Task BindModelAsync(ModelBindingContext bindingContext)
    {
        var given = bindingContext.ValueProvider.GetValue(bindingContext.ModelName);
        if (given == ValueProviderResult.None)
            return Task.CompletedTask;
        bindingContext.ModelState.SetModelValue(bindingContext.ModelName, given);
        var text = given.FirstValue ?? "";
        if (text.Trim().Length == 0)
            bindingContext.Result = bindingContext.ModelMetadata.IsReferenceOrNullableType ? ModelBindingResult.Success(null) : ModelBindingResult.Failed();
        else if (NumberText.TryParse(text, out var number, out var refusal))
            bindingContext.Result = ModelBindingResult.Success(number);
        else
            bindingContext.ModelState.TryAddModelError(bindingContext.ModelName, refusal!);
        return Task.CompletedTask;
    }
}
