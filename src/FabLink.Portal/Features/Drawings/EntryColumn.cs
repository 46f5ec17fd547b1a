namespace FabLink.Portal.Features.Drawings;

/// <summary>The columns of the table in which characteristics are typed; a pasted block fills them in this order.</summary>
/// <param name="Field">A name of <see cref="CharacteristicEntry"/>.</param>
/// <param name="Width">A width class of the stylesheet.</param>
/// <param name="List">The id of the list of words that may stand here; null for free text.</param>
public sealed record EntryColumn(
    string Field, string Label, string Width, int Longest, Func<CharacteristicEntry, string?> Of, string? List = null, string? Mode = null)
{
    public static IReadOnlyList<EntryColumn> All { get; } =
    [
        new(nameof(CharacteristicEntry.Balloon), "Balloon", "w4", 4, entry => entry.Balloon, Mode: "numeric"),
        new(nameof(CharacteristicEntry.Requirement), "Requirement", "w12", 400, entry => entry.Requirement),
        new(nameof(CharacteristicEntry.Name), "Name", "w10", 120, entry => entry.Name),
        new(nameof(CharacteristicEntry.Stages), "Checked at", "w10", 120, entry => entry.Stages),
        new(nameof(CharacteristicEntry.Class), "Class", "w6", 20, entry => entry.Class, "words-class"),
        new(nameof(CharacteristicEntry.Kind), "Kind", "w6", 20, entry => entry.Kind, "words-kind"),
        new(nameof(CharacteristicEntry.Unit), "Unit", "w4", 20, entry => entry.Unit, "words-unit"),
        new(nameof(CharacteristicEntry.Datums), "Datums", "w6", 40, entry => entry.Datums),
        new(nameof(CharacteristicEntry.Count), "Places", "w4", 6, entry => entry.Count, Mode: "numeric"),
        new(nameof(CharacteristicEntry.Applies), "Applies", "w8", 20, entry => entry.Applies, "words-applies"),
        new(nameof(CharacteristicEntry.Rule), "Judged", "w6", 20, entry => entry.Rule, "words-rule"),
        new(nameof(CharacteristicEntry.Locates), "Locates", "w12", Drawings.Locates.Longest, entry => entry.Locates),
        new(nameof(CharacteristicEntry.Rounding), "ASTM E29", "w6", 20, entry => entry.Rounding, "words-rounding"),
    ];

    public static IReadOnlyDictionary<string, IReadOnlyList<string>> Lists { get; } = new Dictionary<string, IReadOnlyList<string>>
    {
        ["words-class"] = CharacteristicWords.Classes,
        ["words-kind"] = CharacteristicWords.Kinds,
        ["words-unit"] = CharacteristicWords.Units,
        ["words-applies"] = CharacteristicWords.Applies,
        ["words-rule"] = CharacteristicWords.Rules,
        ["words-rounding"] = CharacteristicWords.Roundings,
    };

    public static string LabelOf(string field) => All.FirstOrDefault(column => column.Field == field)?.Label ?? field;
}
