using AngleSharp.Dom;
using AngleSharp.Html.Dom;

namespace FabLink.Testing;

/// <summary>What a browser would send for a filled-in form (HTML Living Standard, "constructing the entry list").</summary>
internal sealed record FormData(IReadOnlyList<KeyValuePair<string, string>> Fields, IReadOnlyList<Upload> Files)
{
    public static FormData Of(IHtmlFormElement form, IHtmlElement? button, IEnumerable<(string Name, string Value)> typed, IReadOnlyList<Upload> files)
    {
        var controls = form.Elements.OfType<IHtmlElement>().Where(control => !string.IsNullOrEmpty(control.GetAttribute("name"))).ToList();
        foreach (var group in typed.GroupBy(field => field.Name)) Fill(form, controls, group.Key, group.Select(field => field.Value).ToList());
        foreach (var file in files)
            if (!controls.Any(control => control is IHtmlInputElement { Type: "file" } && control.GetAttribute("name") == file.Field))
                throw NoField(form, controls, file.Field);

        var fields = new List<KeyValuePair<string, string>>();
        foreach (var control in controls.Where(control => !IsDisabled(control)))
        {
            var name = control.GetAttribute("name")!;
            switch (control)
            {
                case IHtmlInputElement { Type: "checkbox" or "radio" } choice when choice.IsChecked:
                    fields.Add(new(name, choice.GetAttribute("value") ?? "on"));
                    break;
                case IHtmlInputElement { Type: "checkbox" or "radio" or "file" or "reset" or "button" }:
                    break;
                case IHtmlInputElement { Type: "submit" or "image" } or IHtmlButtonElement:
                    if (ReferenceEquals(control, button)) fields.Add(new(name, control.GetAttribute("value") ?? ""));
                    break;
                case IHtmlInputElement input:
                    fields.Add(new(name, input.Value));
                    break;
                case IHtmlTextAreaElement area:
                    fields.Add(new(name, area.Value.ReplaceLineEndings("\r\n")));
                    break;
                case IHtmlSelectElement select:
                    if (select.IsRequired && select.Value is not { Length: > 0 } && button?.HasAttribute("formnovalidate") != true)
                        throw new InvalidOperationException($"A browser does not send this form: '{name}' is required and its chosen value is empty.");
                    fields.AddRange(select.Options.Where(option => option.IsSelected).Select(option => new KeyValuePair<string, string>(name, option.Value)));
                    break;
            }
        }

        return new FormData(fields, files);
    }

    private static void Fill(IHtmlFormElement form, List<IHtmlElement> controls, string name, List<string> values)
    {
        // ASP.NET Core puts a hidden twin behind each check box; nobody types into hidden fields unless there is nothing else.
        var named = controls.Where(control => control.GetAttribute("name") == name).ToList();
        var visible = named.Where(control => control is not IHtmlInputElement { Type: "hidden" }).ToList();
        if (visible.Count == 0) visible = named;
        if (visible.Count == 0) throw NoField(form, controls, name);

        if (visible.TrueForAll(control => control is IHtmlInputElement { Type: "radio" }))
        {
            var choices = visible.Cast<IHtmlInputElement>().ToList();
            if (!choices.Exists(choice => choice.Value == values[0]))
                throw new InvalidOperationException($"'{name}' offers {string.Join(", ", choices.Select(choice => choice.Value))}, not '{values[0]}'.");
            choices.ForEach(choice => choice.IsChecked = choice.Value == values[0]);
            return;
        }

        // Several check boxes of one name are a choice of several: tick those whose values are given.
        if (visible.Count > 1 && visible.TrueForAll(control => control is IHtmlInputElement { Type: "checkbox" }))
        {
            foreach (var box in visible.Cast<IHtmlInputElement>()) box.IsChecked = values.Contains(box.Value);
            return;
        }

        if (values.Count > visible.Count && visible[0] is not IHtmlSelectElement { IsMultiple: true })
            throw new InvalidOperationException($"The form has {visible.Count} field(s) '{name}', and {values.Count} values were typed.");
        for (var i = 0; i < Math.Min(values.Count, visible.Count); i++) Type(visible[i], name, values[i], values);
    }

    private static void Type(IHtmlElement control, string name, string value, List<string> all)
    {
        switch (control)
        {
            case IHtmlInputElement { Type: "checkbox" } box:
                box.IsChecked = value is "true" or "on" || value == box.GetAttribute("value") && value != "false";
                break;
            case IHtmlInputElement input:
                input.Value = value;
                break;
            case IHtmlTextAreaElement area:
                area.Value = value;
                break;
            case IHtmlSelectElement select:
                var chosen = select.IsMultiple ? all : [value];
                foreach (var wanted in chosen)
                    if (!select.Options.Any(option => option.Value == wanted))
                        throw new InvalidOperationException($"'{name}' offers {string.Join(", ", select.Options.Select(option => option.Value))}, not '{wanted}'.");
                foreach (var option in select.Options) option.IsSelected = chosen.Contains(option.Value);
                break;
            default:
                throw new InvalidOperationException($"'{name}' is a {control.LocalName}: nothing can be typed into it.");
        }
    }

    private static bool IsDisabled(IHtmlElement control) =>
        control.HasAttribute("disabled") || control.Ancestors<IHtmlFieldSetElement>().Any(set => set.HasAttribute("disabled"));

    private static InvalidOperationException NoField(IHtmlFormElement form, List<IHtmlElement> controls, string name) =>
        new($"The form {form.GetAttribute("action")} has no field '{name}'; it has {string.Join(", ", controls.Select(control => control.GetAttribute("name")).Distinct())}.");
}
