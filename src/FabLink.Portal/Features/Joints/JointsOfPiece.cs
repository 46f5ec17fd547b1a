using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Joints;

/// <summary>What the joints of one piece say, for whoever decides about it. Only the build shop sees joints; others get none.</summary>
public static class JointsOfPiece
{
    /// <param name="Failed">Dimensions of this piece's holes that leave their own limits, with whether they matter to the joint.</param>
    public sealed record Line(Guid Id, string Name, string Form, string Verdict, decimal? MarginMm, string Unit, IReadOnlyList<FailedDimension> Failed)
    {
        /// <summary>A failed hole does not matter to this joint.</summary>
        public bool SparesFailed => Failed.Count > 0 && Failed.All(one => !one.Matters);
    }

    private sealed record Row(Guid Id, string Name, string Form, string Verdict, decimal? MarginMm, string Answer, bool IsPart);

    private const string Select = """
        select j.id, j.name, c.form, c.verdict, c.margin_mm, c.answer::text as answer, j.part_id = p.part_id and j.place = p.place as is_part
        from piece q join work_order_line l on l.id = q.line_id
             join lateral pieces_in_place(l.build_id) p on p.piece_id = q.id
             join joint j on j.build_id = l.build_id and j.removed_at is null
                  and ((j.part_id = p.part_id and j.place = p.place) or (j.mate_part_id = p.part_id and j.mate_place = p.place))
             join lateral (select * from joint_check c where c.joint_id = j.id order by c.ordinal desc limit 1) c on true
        where q.id = @piece order by c.verdict, j.name
        """;

    public static async Task<IReadOnlyList<Line>> OfAsync(Work work, Guid piece) =>
    [
        .. from row in await work.RowsAsync<Row>(Select, new { piece })
           let finding = JointJson.Read<JointFinding>(row.Answer)
           select new Line(
               row.Id, row.Name, row.Form, row.Verdict, row.MarginMm, finding.Unit, [.. finding.Failed.Where(failed => failed.Side == (row.IsPart ? "part" : "mate"))]),
    ];
}
