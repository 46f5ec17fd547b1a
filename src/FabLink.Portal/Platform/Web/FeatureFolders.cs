using Microsoft.AspNetCore.Mvc.ApplicationModels;
using Microsoft.AspNetCore.Mvc.Razor;

namespace FabLink.Portal.Platform.Web;

/// <summary>A view lies beside its controller: the namespace of the controller is the folder of its views.</summary>
internal sealed class FeatureFolders : IControllerModelConvention, IViewLocationExpander
{
    private const string Key = "folder";
    private static readonly string Root = typeof(Program).Assembly.GetName().Name + ".";
    private static readonly string[] Shared = ["/Features/Shared/{0}.cshtml", "/Platform/Web/{0}.cshtml"];

    public void Apply(ControllerModel controller)
    {
        var space = controller.ControllerType.Namespace ?? "";
        if (space.StartsWith(Root, StringComparison.Ordinal))
            controller.Properties[Key] = "/" + space[Root.Length..].Replace('.', '/') + "/{0}.cshtml";
    }

    public void PopulateValues(ViewLocationExpanderContext context)
    {
        if (context.ActionContext.ActionDescriptor.Properties.TryGetValue(Key, out var folder))
            context.Values[Key] = (string?)folder;
    }

    public IEnumerable<string> ExpandViewLocations(ViewLocationExpanderContext context, IEnumerable<string> viewLocations) =>
        context.Values.TryGetValue(Key, out var folder) && folder is not null ? [folder, .. Shared] : Shared;
}
