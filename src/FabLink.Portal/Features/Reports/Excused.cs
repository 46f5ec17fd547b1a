using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Reports;

/// <summary>The classes of characteristics that a piece need not be measured for: its line is sampled, the piece is not in the sample, and the sample stands.</summary>
public static class Excused
{
    public sealed record Row(Guid PieceId, string Class, string Plan);

    private const string Select = """
        select p.id as piece_id, s.class, s.plan from piece p join line_sampling s on s.line_id = p.line_id
        where p.id = any(@pieces) and s.failed_at is null
          and not exists (select 1 from line_sample_piece m where m.line_id = s.line_id and m.class = s.class and m.piece_id = p.id)
        order by s.class
        """;

    /// <summary>Nothing that is asked need be measured; false where nothing is asked.</summary>
    public static bool FromAll(IReadOnlyCollection<Characteristic> asked, IEnumerable<Row> excused)
    {
        var classes = excused.Select(row => row.Class).ToHashSet();
        return asked.Count > 0 && asked.All(row => classes.Contains(row.Class));
    }

    public static async Task<ILookup<Guid, Row>> OfAsync(Work work, Guid[] pieces) =>
        (await work.RowsAsync<Row>(Select, new { pieces })).ToLookup(row => row.PieceId);
}
