using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>What can be chosen while a work order is drafted; all of it the build shop's own.</summary>
public sealed record OrderChoices(
    IReadOnlyList<Choice> Shops,
    IReadOnlyList<Choice> Doers,
    IReadOnlyList<Choice> Revisions,
    IReadOnlyList<Choice> Builds,
    Guid OwnerId,
    Guid? CoaterId);

/// <summary>A draft as it is typed: everything may still be missing. Works without scripts: a button sends the whole form and gets it back changed.</summary>
public sealed record OrderForm(Guid? Id, int RowVersion, Guid ShopId, string? PurchaseOrderNumber, string? Note, IReadOnlyList<PlannedLine>? Lines)
{
    public static OrderForm New(OrderChoices choices) => new(null, 0, Guid.Empty, "", "", [EmptyLine(choices)]);

    public CreateWorkOrder.Request ToCreate() => new(ShopId, PurchaseOrderNumber, Note, Lines);

    public EditWorkOrder.Request ToEdit(Guid id) => new(id, RowVersion, ShopId, PurchaseOrderNumber, Note, Lines);

    /// <summary>
    /// The form after one of its small buttons: <c>add line</c>, <c>drop line 0</c>, <c>add step 0</c>, <c>drop step 0 2</c>,
    /// <c>up step 0 2</c>, <c>usual route 0</c>. Null when it was the button that saves.
    /// </summary>
    public OrderForm? After(string? button, OrderChoices choices)
    {
        var words = (button ?? "").Split(' ');
        var lines = (Lines ?? []).ToList();
        var line = words.Length > 2 && int.TryParse(words[2], out var l) && l >= 0 && l < lines.Count ? l : -1;
        var route = line < 0 ? [] : (lines[line].Route ?? []).ToList();
        var step = words.Length > 3 && int.TryParse(words[3], out var s) && s >= 0 && s < route.Count ? s : -1;
        switch (words)
        {
            case ["add", "line", ..]:
                lines.Add(EmptyLine(choices));
                return this with { Lines = lines };
            case ["drop", "line", ..] when line >= 0:
                lines.RemoveAt(line);
                return this with { Lines = lines };
            case ["add", "step", ..] when line >= 0:
                route.Add(new PlannedStep("inspect", null, null));
                break;
            case ["drop", "step", ..] when step >= 0:
                route.RemoveAt(step);
                break;
            case ["up", "step", ..] when step > 0:
                (route[step - 1], route[step]) = (route[step], route[step - 1]);
                break;
            case ["usual", "route", ..] when line >= 0:
                route = [.. PlannedStep.UsualRoute(choices.OwnerId, choices.CoaterId)];
                break;
            default:
                return null;
        }

        lines[line] = lines[line] with { Route = route };
        return this with { Lines = lines };
    }

    private static PlannedLine EmptyLine(OrderChoices choices) =>
        new(Guid.Empty, Guid.Empty, 1, null, "", PlannedStep.UsualRoute(choices.OwnerId, choices.CoaterId));
}

/// <summary>The form together with what can be chosen in it.</summary>
public sealed record OrderFormPage(OrderForm Form, OrderChoices Choices);
