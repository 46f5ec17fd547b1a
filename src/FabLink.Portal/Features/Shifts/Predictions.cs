using Dapper;
using FabLink.Engineering.Forecasting;
using FabLink.Engineering.Quantities;
using Npgsql;

namespace FabLink.Portal.Features.Shifts;

/// <summary>Where the values of a report at tack will end, as far as the shop's record says so.</summary>
public static class Predictions
{
    private const string Values = $"""
        select p.id as piece_id, p.serial, w.id as work_order_id, w.owner_id, w.shop_id, t.number as part_number, c.balloon, c.count, v.instance, c.kind, c.unit,
               c.requirement, c.lower_limit, c.upper_limit, v.value, v.verdict, later.stage
        from report r join measured_value v on v.report_id = r.id join characteristic c on c.id = v.characteristic_id
             join work_order w on w.id = r.work_order_id join piece p on p.id = r.piece_id join part t on t.id = p.part_id
             {ShiftPairs.LaterStage}
        where r.id = @report and r.stage = 'tack' and v.value is not null and {ShiftPairs.Moves}
              and not exists (select 1 from report n join measured_value m on m.report_id = n.id
                              where n.piece_id = r.piece_id and n.stage = later.stage and m.characteristic_id = c.id and m.instance = v.instance)
        order by c.balloon, v.instance
        """;

    /// <returns>Only values for which a shift is worth something and that are not measured later yet.</returns>
    public static async Task<IReadOnlyList<Predicted>> OfReportAsync(
        NpgsqlConnection connection, NpgsqlTransaction? transaction, Guid report, CancellationToken cancellation)
    {
        var values = (await connection.QueryAsync<PredictedValue>(new CommandDefinition(Values, new { report }, transaction, cancellationToken: cancellation))).AsList();
        if (values.Count == 0)
            return [];
        var shifts = await ShiftPairs.LearnAsync(connection, transaction, values[0].OwnerId, values[0].ShopId, cancellation);
        return
        [
            .. from value in values
               let shift = shifts.FirstOrDefault(shift => shift.Used && (shift.Kind, shift.Angle, shift.Stage) == (value.Kind, value.Angle, value.Stage))
               where shift is not null
               select new Predicted(value, shift, shift.Learned!.Predict(value.Scaled(value.Value), Limit(value, value.LowerLimit), Limit(value, value.UpperLimit))),
        ];
    }

    private static double? Limit(PredictedValue value, decimal? limit) => limit is { } number ? value.Scaled(number) : null;
}

/// <summary>A value at tack that is asked for again at <paramref name="Stage"/>.</summary>
public sealed record PredictedValue(
    Guid PieceId,
    string Serial,
    Guid WorkOrderId,
    Guid OwnerId,
    Guid ShopId,
    string PartNumber,
    int Balloon,
    int Count,
    short Instance,
    string Kind,
    string Unit,
    string Requirement,
    decimal? LowerLimit,
    decimal? UpperLimit,
    decimal Value,
    string Verdict,
    string Stage)
{
    internal Unit UnitOf => Units.TryParse(Unit, out var unit) ? unit : Engineering.Quantities.Unit.None;

    internal bool Angle => Units.IsAngle(UnitOf);

    public string BalloonText => Count == 1 ? $"{Balloon}" : $"{Balloon}.{Instance}";

    internal double Scaled(decimal value) => ShiftPairs.Scaled(value, Angle);
}

/// <param name="Prediction">In mm or degrees.</param>
public sealed record Predicted(PredictedValue Value, Shift Shift, ShiftPrediction Prediction)
{
    /// <summary>The expected final value in the unit of the drawing.</summary>
    public string Expected => Say(Prediction.Value);

    /// <summary>95 % interval in the unit of the drawing.</summary>
    public string Interval => $"{Say(Prediction.Interval.Lower)} to {Say(Prediction.Interval.Upper)}";

    public string Symbol => Value.UnitOf == Unit.DegreeMinuteSecond ? "°" : Units.Symbol(Value.UnitOf);

    private string Say(double number) => Value.UnitOf == Unit.Inch
        ? $"{number / 25.4:0.000}"
        : Value.Angle ? $"{number:0.00}" : $"{Units.FromBase((decimal)number, Value.UnitOf):0.00}";
}
