using Dapper;
using Npgsql;

namespace FabLink.Portal.Features.Shifts;

/// <summary>
/// Says at tack, while it is cheap to correct, that a value will leave its limits by the time it counts. Runs without an actor, after the
/// report, once for all of its balloons; a balloon of a piece is said once, however often it runs.
/// </summary>
public static class ShiftWarnings
{
    public const string Kind = "predicted to leave its limit";

    private const int Listed = 20;

    // A key names its piece and all the balloons that it said.
    private const string Said = "select distinct said_once from notice where kind = @Kind and organisation_id = @organisation and piece_id = @PieceId and said_once is not null";

    private const string TellOne = "select tell(@Kind, @organisation, @roles, @WorkOrderId, @PieceId, @subject, @body, @path, @once, @now)";

    /// <returns>How many people were told something new.</returns>
    public static async Task<int> ApplyAsync(
        NpgsqlConnection connection, NpgsqlTransaction? transaction, Guid report, DateTimeOffset now, CancellationToken cancellation)
    {
        var told = 0;
        var leaving = (await Predictions.OfReportAsync(connection, transaction, report, cancellation))
            .Where(predicted => predicted.Prediction.Outside && predicted.Value.Verdict != "does not conform").ToList();
        if (leaving.Count == 0)
            return 0;
        var piece = leaving[0].Value;
        foreach (var (organisation, roles) in new[] { (piece.OwnerId, new[] { "engineer" }), (piece.ShopId, ["fabricator"]) })
        {
            var said = (await connection.QueryAsync<string>(new CommandDefinition(Said, new { Kind, organisation, piece.PieceId }, transaction, cancellationToken: cancellation)))
                .SelectMany(once => once.Split(' ').Skip(2)).ToHashSet();
            var balloons = leaving.GroupBy(predicted => predicted.Value.Balloon).Where(balloon => !said.Contains($"{balloon.Key}")).ToList();
            if (balloons.Count == 0)
                continue;
            told += await connection.ExecuteScalarAsync<int>(new CommandDefinition(
                TellOne,
                new
                {
                    Kind,
                    organisation,
                    roles,
                    piece.WorkOrderId,
                    piece.PieceId,
                    subject = Subject(piece, [.. balloons.SelectMany(balloon => balloon)]),
                    body = $"""
                        {piece.PartNumber}, piece {piece.Serial}. At tack {(balloons.Count == 1 ? "this is" : "these are")} inside {(balloons.Count == 1 ? "its" : "their")} limits, and later probably not:
                        {string.Join('\n', balloons.Take(Listed).Select(Line))}{(balloons.Count > Listed ? $"\nand {balloons.Count - Listed} more balloons: see the report." : "")}
                        Shop: set {(balloons.Count == 1 ? "it" : "each")} the other way by about the mean shift before welding, or ask. Engineer: say so if the shop should not.
                        """,
                    path = $"/reports/{report}",
                    once = $"predicted {piece.PieceId} {string.Join(' ', balloons.Select(balloon => balloon.Key))}",
                    now,
                },
                transaction,
                cancellationToken: cancellation));
        }

        return told;
    }

    private static string Subject(PredictedValue piece, IReadOnlyList<Predicted> leaving) =>
        $"{piece.Serial} {(leaving.Count == 1 ? "balloon" : "balloons")} {string.Join(", ", leaving.Take(6).Select(one => one.Value.BalloonText))}{(leaving.Count > 6 ? " and more" : "")}: "
        + $"predicted to leave {(leaving.Count == 1 ? "its limit" : "their limits")} at stage {string.Join(", ", leaving.Select(one => one.Value.Stage).Distinct())}";

    private static string Line(IEnumerable<Predicted> balloon)
    {
        var worst = balloon.MaxBy(predicted => predicted.Prediction.LeavesLimits)!;
        var (value, shift) = (worst.Value, worst.Shift);
        return $"Balloon {value.BalloonText}, {value.Requirement}: at stage {value.Stage} expected at {worst.Expected} {worst.Symbol} ({worst.Interval} in 95 of 100 cases), outside with a probability of "
            + $"{worst.Prediction.LeavesLimits:0 %}; mean shift {shift.Learned!.Mean:+0.00;-0.00} {shift.Unit}, learned from {shift.Pairs} pairs of this shop and kind.";
    }
}
