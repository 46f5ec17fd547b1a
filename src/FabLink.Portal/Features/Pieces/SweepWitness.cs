using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.Pieces;

/// <summary>
/// Lets the route go on where a witness was invited and did not come within the notice time. Runs every few minutes as the jobs role;
/// running twice changes nothing twice.
/// </summary>
public static class SweepWitness
{
    public sealed class Handler(DataSources sources, TimeProvider clock)
    {
        private const string Open = """
            update piece_step s set opened_at = @now, opened_how = 'notice time over', row_version = s.row_version + 1
            from route_step r, piece p
            where r.id = s.route_step_id and p.id = s.piece_id and r.gate = 'witness' and s.opened_at is null and s.asked_at is not null
              and s.asked_at + make_interval(hours => r.notice_hours) <= @now and (select ended from piece_stand(p.id)) is null
            returning s.id, s.work_order_id, s.piece_id, s.organisation_id, p.serial, r.kind, s.asked_at
            """;

        private const string Say = """
            select tell('notice time over', @OrganisationId, array['fabricator', 'coater'], @WorkOrderId, @PieceId,
                        @Subject, @Body, '/pieces/' || @PieceId::text, 'witness ' || @Id::text, @now)
            """;

        private sealed record Opened(Guid Id, Guid WorkOrderId, Guid PieceId, Guid OrganisationId, string Serial, string Kind, DateTimeOffset AskedAt);

        /// <summary>How many gates were opened.</summary>
        public async Task<int> RunAsync(CancellationToken cancellation)
        {
            var now = clock.GetUtcNow();
            await using var connection = await sources.Jobs.OpenConnectionAsync(cancellation);
            await using var transaction = await connection.BeginTransactionAsync(cancellation);
            var opened = (await connection.QueryAsync<Opened>(new CommandDefinition(Open, new { now }, transaction, cancellationToken: cancellation))).AsList();
            foreach (var step in opened)
            {
                var say = new
                {
                    step.Id,
                    step.WorkOrderId,
                    step.PieceId,
                    step.OrganisationId,
                    Subject = $"{step.Serial}: the notice time after {step.Kind} is over, go on",
                    Body = $"The build shop was invited on {LocalTime.TimeAndZone(step.AskedAt)} to witness {step.Kind} of {step.Serial} and did not come. The piece may go on.",
                    now,
                };
                await connection.ExecuteAsync(new CommandDefinition(Say, say, transaction, cancellationToken: cancellation));
            }

            await NextTurn.TellAsync(connection, transaction, opened.Select(step => step.PieceId), now, cancellation);
            await transaction.CommitAsync(cancellation);
            return opened.Count;
        }
    }
}
