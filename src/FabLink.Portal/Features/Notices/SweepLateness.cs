using Dapper;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Notices;

/// <summary>
/// Looks at every open line against its need date and its promise. What is late is said once per line, kind and day concerned,
/// however often this runs and in however many portals.
/// </summary>
public static class SweepLateness
{
    public sealed class Handler(DataSources sources, TimeProvider clock)
    {
        private const string LateLines = """
            select l.id as line_id, l.work_order_id, w.number as order_number, w.owner_id, w.shop_id, t.number as part_number, t.name as part_name,
                   l.need_date, pr.promised_date, coalesce(pr.reason, '') as reason,
                   exists (select 1 from question q where q.work_order_id = w.id and q.answered_at is null) as asked, open.pieces, open.first_piece,
                   case when l.need_date < @today then 'needed' when pr.promised_date < @today then 'promised' else 'promised for too late' end as why
            from work_order_line l join work_order w on w.id = l.work_order_id
                 join lateral (select min(p.id::text)::uuid as first_piece, count(*) as pieces, min(p.part_id::text)::uuid as part_id
                               from piece p where p.line_id = l.id and (select ended from piece_stand(p.id)) is null
                                     and exists (select 1 from piece_step s where s.piece_id = p.id and s.finished_at is null)) open on open.pieces > 0
                 join part t on t.id = open.part_id
                 left join lateral (select promised_date, reason from promise where line_id = l.id order by made_at desc, id desc limit 1) pr on true
            where w.issued_at is not null and w.closed_at is null and w.declined_at is null
                  and (l.need_date < @today or pr.promised_date < @today or pr.promised_date > l.need_date)
            """;

        private const string TellOne = """
            select tell('part late', @organisation, @roles, @WorkOrderId, null, @subject, @body, @path, @once, @now)
            """;

        /// <returns>How many people were told something new.</returns>
        public async Task<int> HandleAsync(CancellationToken cancellation)
        {
            var now = clock.GetUtcNow();
            await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
            var late = await connection.QueryAsync<Late>(new CommandDefinition(
                LateLines, new { today = DateOnly.FromDateTime(now.UtcDateTime) }, cancellationToken: cancellation));
            var told = 0;
            foreach (var line in late)
            {
                foreach (var (organisation, roles) in new[] { (line.OwnerId, new[] { "buyer", "engineer" }), (line.ShopId, ["fabricator"]) })
                {
                    told += await connection.ExecuteScalarAsync<int>(new CommandDefinition(
                        TellOne,
                        new
                        {
                            organisation,
                            roles,
                            line.WorkOrderId,
                            subject = line.Subject,
                            body = line.Body,
                            path = $"/orders/{line.WorkOrderId}",
                            once = $"late {line.LineId} {line.Why} {line.NeedDate:yyyy-MM-dd} {line.PromisedDate:yyyy-MM-dd}",
                            now,
                        },
                        cancellationToken: cancellation));
                }
            }
            return told;
        }

        private sealed record Late(
            Guid LineId,
            Guid WorkOrderId,
            string OrderNumber,
            Guid OwnerId,
            Guid ShopId,
            string PartNumber,
            string PartName,
            DateOnly NeedDate,
            DateOnly? PromisedDate,
            string Reason,
            bool Asked,
            long Pieces,
            Guid FirstPiece,
            string Why)
        {
            public string Subject => Why switch
            {
                "needed" => $"{OrderNumber}: {PartNumber} is late, needed {NeedDate:ddd d MMM}",
                "promised" => $"{OrderNumber}: {PartNumber} is past its promise of {PromisedDate:ddd d MMM}",
                _ => $"{OrderNumber}: {PartNumber} is promised for {PromisedDate:ddd d MMM}, needed {NeedDate:ddd d MMM}",
            };

            public string Body => $"{Pieces} of {PartNumber} {PartName} on {OrderNumber} are not through their route. Needed {NeedDate:ddd d MMM}"
                + (PromisedDate is { } promised ? $", promised {promised:ddd d MMM}." : ", not promised yet.")
                + (Why == "promised for too late" && Reason.Length > 0 ? $" The shop says why: {WorkOrders.OrderStanding.Sentence(Reason)}" : " Shop: give a new promise with its reason.")
                + (Asked ? " A question on the order waits for an answer; the clock of the shop stands meanwhile." : "")
                + " Build shop: see on the board what each piece waits for.";
        }
    }
}
