using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Nonconformances;

/// <summary>A failed report opens a nonconformance by itself; a later report that shows that what failed conforms closes it.</summary>
public static class NonconformanceBook
{
    /// <returns>Its number, and whether it was open before: there is one at a time for a piece and stage.</returns>
    public static async Task<(string Number, bool Before)> OpenAsync(Work work, Measuring.PieceRow piece, string stage, Guid report, DateTimeOffset now)
    {
        // Asked past the policies: whoever measured first may be somebody whose records this actor does not see.
        const string Open = "select open_nonconformance(@piece, @stage)";
        const string Insert = """
            insert into nonconformance (id, owner_id, work_order_id, piece_id, report_id, stage, number, opened_at, opened_by)
            values (@id, @owner, @workOrder, @piece, @report, @stage, @number, @now, @person)
            """;
        if (await work.ValueAsync<string>(Open, new { piece = piece.Id, stage }) is { } open)
            return (open, true);
        var number = $"NC-{await work.ValueAsync<int>("select next_number(@owner, 'nonconformance')", new { owner = piece.OwnerId }):0000}";
        await work.ExecuteAsync(Insert, new
        {
            id = Guid.CreateVersion7(now),
            owner = piece.OwnerId,
            workOrder = piece.WorkOrderId,
            piece = piece.Id,
            report,
            stage,
            number,
            now,
            person = work.Actor.PersonId,
        });
        return (number, false);
    }

    /// <summary>
    /// Made to conform: what was open at a piece and stage, whoever found it, is closed by the report that shows it, unless a value of somebody else fails still,
    /// a value that failed is only not proven now, or the piece is given up.
    /// </summary>
    public static Task<IReadOnlyList<Closed>> CloseAsync(Work work, string stage, (Guid Piece, Guid Report)[] shown, DateTimeOffset now) =>
        work.RowsAsync<Closed>(
            "select id, number, piece_id from heal_nonconformances(@pieces, @reports, @stage, @now)",
            new { pieces = shown.Select(one => one.Piece).ToArray(), reports = shown.Select(one => one.Report).ToArray(), stage, now });

    public sealed record Closed(Guid Id, string Number, Guid PieceId);
}
