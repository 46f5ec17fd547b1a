using FabLink.Portal.Platform.Database;
using Npgsql;
using NpgsqlTypes;

namespace FabLink.Portal.Features.Reports;

/// <summary>
/// Writes the values of a submission in one statement: arrays, one per column, unnested by the database.
/// (COPY into a table with policies is refused for the app's role.)
/// </summary>
public sealed class ReportRows(int capacity)
{
    private const string Insert = """
        insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, expanded_uncertainty, instrument, note, verdict, off_by, bonus)
        select * from unnest($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)
        """;

    private readonly Guid[] _report = new Guid[capacity];
    private readonly Guid[] _workOrder = new Guid[capacity];
    private readonly Guid[] _characteristic = new Guid[capacity];
    private readonly short[] _instance = new short[capacity];
    private readonly decimal?[] _value = new decimal?[capacity];
    private readonly string[] _unit = new string[capacity];
    private readonly string[] _typed = new string[capacity];
    private readonly decimal?[] _uncertainty = new decimal?[capacity];
    private readonly string[] _instrument = new string[capacity];
    private readonly string[] _note = new string[capacity];
    private readonly string[] _verdict = new string[capacity];
    private readonly decimal?[] _offBy = new decimal?[capacity];
    private readonly decimal?[] _bonus = new decimal?[capacity];

    public int Count { get; private set; }

    public void Add(Guid report, Guid workOrder, SubmitReport.Value value, string verdict, decimal? offBy, decimal? bonus)
    {
        var row = Count++;
        _report[row] = report;
        _workOrder[row] = workOrder;
        _characteristic[row] = value.CharacteristicId;
        _instance[row] = (short)value.Instance;
        _value[row] = value.Number;
        _unit[row] = value.Unit;
        _typed[row] = value.Typed;
        _uncertainty[row] = value.ExpandedUncertainty;
        _instrument[row] = value.Instrument;
        _note[row] = value.Note;
        _verdict[row] = verdict;
        _offBy[row] = offBy;
        _bonus[row] = bonus;
    }

    public async Task WriteAsync(Work work)
    {
        if (Count != capacity)
            throw new InvalidOperationException($"{capacity} rows were announced and {Count} came.");
        await using var command = new NpgsqlCommand(Insert, work.Connection)
        {
            Parameters =
            {
                Column(_report, NpgsqlDbType.Uuid),
                Column(_workOrder, NpgsqlDbType.Uuid),
                Column(_characteristic, NpgsqlDbType.Uuid),
                Column(_instance, NpgsqlDbType.Smallint),
                Column(_value, NpgsqlDbType.Numeric),
                Column(_unit, NpgsqlDbType.Text),
                Column(_typed, NpgsqlDbType.Text),
                Column(_uncertainty, NpgsqlDbType.Numeric),
                Column(_instrument, NpgsqlDbType.Text),
                Column(_note, NpgsqlDbType.Text),
                Column(_verdict, NpgsqlDbType.Text),
                Column(_offBy, NpgsqlDbType.Numeric),
                Column(_bonus, NpgsqlDbType.Numeric),
            },
        };
        await command.ExecuteNonQueryAsync(work.Cancellation);
    }

    private static NpgsqlParameter Column(Array values, NpgsqlDbType type) =>
        new() { Value = values, NpgsqlDbType = NpgsqlDbType.Array | type };
}
