namespace FabLink.Portal.Features.Reports.Import;

internal enum MeasurementField
{
    Balloon,
    Instance,
    Value,
    Unit,
    Uncertainty,
    Instrument,
    Note,
    Serial,
    Revision,
    Part,
    Stage,
}

/// <summary>The words that shops use for the columns, lower case without blanks and punctuation.</summary>
internal static class MeasurementColumns
{
    public static IReadOnlyDictionary<string, MeasurementField> Names { get; } = Read(
        (MeasurementField.Balloon, "balloon balloonno balloonnumber item itemno itemnumber no nr number # pos position char charno characteristic characteristicno characteristicnumber dim dimno dimension"),
        (MeasurementField.Instance, "instance instanceno hole holeno place placeno repeat"),
        (MeasurementField.Value, "value measured measuredvalue measurement actual actualvalue result reading"),
        (MeasurementField.Unit, "unit units uom"),
        (MeasurementField.Uncertainty, "uncertainty u expandeduncertainty measurementuncertainty"),
        (MeasurementField.Instrument, "instrument instruments gauge gage tool equipment measuredwith"),
        (MeasurementField.Note, "note notes remark remarks comment comments"),
        (MeasurementField.Serial, "serial serialno serialnumber sn piece pieceno piecenumber"),
        (MeasurementField.Revision, "revision rev drawingrevision"),
        (MeasurementField.Part, "part partno partnumber drawing drawingno drawingnumber"),
        (MeasurementField.Stage, "stage"));

    public static string Word(MeasurementField field) => field.ToString().ToLowerInvariant();

    private static Dictionary<string, MeasurementField> Read(params (MeasurementField Field, string Words)[] columns) =>
        columns.SelectMany(column => column.Words.Split(' '), (column, word) => (word, column.Field)).ToDictionary();
}
