using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Builds;

/// <summary>The builds of the organisation, newest first, with how many pieces are still on the way.</summary>
public static class ListBuilds
{
    public sealed record Row(Guid Id, string Number, string Name, long Pieces, DateOnly? NextNeed);

    public sealed class Handler(Database database)
    {
        private const string Select = """
            select b.id, b.number, b.name, count(p.id) as pieces, min(l.need_date) as next_need
            from build b left join work_order_line l on l.build_id = b.id left join piece p on p.line_id = l.id and (select ended from piece_stand(p.id)) is null
            group by b.id order by b.created_at desc, b.number
            """;

        public async Task<IReadOnlyList<Row>> HandleAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowsAsync<Row>(Select);
        }
    }
}
