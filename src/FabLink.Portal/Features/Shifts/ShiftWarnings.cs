using Dapper;
using Npgsql;

namespace FabLink.Portal.Features.Shifts;

/// <summary>
/// Says at tack, while it is cheap to correct, that a value will leave its limits by the time it counts. Runs without an actor, after the
/// report; said once per piece and balloon, however often it runs.
/// </summary>
public static class ShiftWarnings
{
    public const string Kind = "predicted to leave its limit";

    private const string TellOne = "select tell(@Kind, @organisation, @roles, @WorkOrderId, @PieceId, @subject, @body, @path, @once, @now)";

    /// <returns>How many people were told something new.</returns>
    public static async Task<int> ApplyAsync(
        NpgsqlConnection connection, NpgsqlTransaction? transaction, Guid report, DateTimeOffset now, CancellationToken cancellation)
    {
        var told = 0;
        var leaving = (await Predictions.OfReportAsync(connection, transaction, report, cancellation))
            .Where(predicted => predicted.Prediction.Outside && predicted.Value.Verdict != "does not conform");
        foreach (var balloon in leaving.GroupBy(predicted => predicted.Value.Balloon))
        {
            var worst = balloon.MaxBy(predicted => predicted.Prediction.LeavesLimits)!;
            var (value, shift) = (worst.Value, worst.Shift);
            foreach (var (organisation, roles) in new[] { (value.OwnerId, new[] { "engineer" }), (value.ShopId, ["fabricator"]) })
            {
                told += await connection.ExecuteScalarAsync<int>(new CommandDefinition(
                    TellOne,
                    new
                    {
                        Kind,
                        organisation,
                        roles,
                        value.WorkOrderId,
                        value.PieceId,
                        subject = $"{value.Serial} balloon {string.Join(", ", balloon.Take(6).Select(one => one.Value.BalloonText))}: predicted to leave its limit at stage {value.Stage}",
                        body = $"""
                            {value.PartNumber}, piece {value.Serial}, balloon {value.BalloonText}: {value.Requirement}. At tack it is inside; at stage {value.Stage} it is expected at {worst.Expected} {worst.Symbol} ({worst.Interval} in 95 of 100 cases), outside with a probability of {worst.Prediction.LeavesLimits:0 %}.
                            Learned from {shift.Pairs} pairs of this shop and kind: mean shift {shift.Learned!.Mean:+0.00;-0.00} {shift.Unit}.
                            Shop: set it the other way by about that much before welding, or ask. Engineer: say so if the shop should not.
                            """,
                        path = $"/reports/{report}",
                        once = $"predicted {value.PieceId} {value.Balloon}",
                        now,
                    },
                    transaction,
                    cancellationToken: cancellation));
            }
        }

        return told;
    }
}
