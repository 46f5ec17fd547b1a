namespace FabLink.Portal.Features.Drawings.Import;

internal enum CharacteristicField
{
    Balloon,
    Requirement,
    Nominal,
    Plus,
    Minus,
    Tolerance,
    Lower,
    Upper,
    Name,
    Kind,
    Unit,
    Datums,
    Class,
    Stages,
    Applies,
    Count,
    Rule,
    Rounding,
    Locates,
    Part,
    Revision,
    General,
}

/// <summary>The words that drawing offices use for the columns, lower case without blanks and punctuation.</summary>
internal static class CharacteristicColumns
{
    public static IReadOnlyDictionary<string, CharacteristicField> Names { get; } = Read(
        (CharacteristicField.Balloon, "balloon balloonno balloonnumber item itemno itemnumber no nr number # pos position char charno characteristicno characteristicnumber dimno"),
        (CharacteristicField.Requirement, "requirement requirements callout specification spec dimension characteristic"),
        (CharacteristicField.Nominal, "nominal nominalvalue size target basic"),
        (CharacteristicField.Plus, "plus uppertolerance uppertol plustolerance plustol + upperdeviation"),
        (CharacteristicField.Minus, "minus lowertolerance lowertol minustolerance minustol - lowerdeviation"),
        (CharacteristicField.Tolerance, "tolerance tol ± +/-"),
        (CharacteristicField.Lower, "lower lowerlimit lsl min minimum lowlimit"),
        (CharacteristicField.Upper, "upper upperlimit usl max maximum highlimit"),
        (CharacteristicField.Name, "name description what feature title"),
        (CharacteristicField.Kind, "kind type characteristictype"),
        (CharacteristicField.Unit, "unit units uom"),
        (CharacteristicField.Datums, "datums datum datumreferences"),
        (CharacteristicField.Class, "class classification importance criticality"),
        (CharacteristicField.Stages, "stages stage checkedat when"),
        (CharacteristicField.Applies, "applies coating appliesto"),
        (CharacteristicField.Count, "count quantity qty places times"),
        (CharacteristicField.Rule, "rule judgingrule acceptance judged"),
        (CharacteristicField.Rounding, "rounding astme29"),
        (CharacteristicField.Locates, "locates hole holes holepattern"),
        (CharacteristicField.Part, "part partno partnumber drawing drawingno drawingnumber"),
        (CharacteristicField.Revision, "revision rev"),
        (CharacteristicField.General, "generaltolerance generaltolerances general"));

    public static string Word(CharacteristicField field) => field.ToString().ToLowerInvariant();

    private static Dictionary<string, CharacteristicField> Read(params (CharacteristicField Field, string Words)[] columns) =>
        columns.SelectMany(column => column.Words.Split(' '), (column, word) => (word, column.Field)).ToDictionary();
}
