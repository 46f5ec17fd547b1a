using FabLink.Portal.Features.Notices;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;
using FluentValidation;

namespace FabLink.Portal.Features.Nonconformances;

/// <summary>
/// Releases a piece whose report neither conforms nor fails: not proven, or incomplete. It records who, why and which serial;
/// what fails goes by its nonconformance instead.
/// </summary>
public static class GrantConcession
{
    public sealed record Request(Guid ReportId, string? Reason, DateOnly? ValidUntil);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator(TimeProvider clock)
        {
            RuleFor(request => request.ValidUntil).NotOver(clock);
            RuleFor(request => request.Reason).NotEmpty().WithMessage("Say why; whoever reads it in five years must understand it.").MaximumLength(4000);
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Granted(string Serial) : Outcome;

        /// <param name="Why">What stands in the way.</param>
        public sealed record Refused(string Why) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    /// <param name="NonconformanceId">Null when it is on a report that shows too little.</param>
    internal sealed record Concession(Guid OwnerId, Guid WorkOrderId, Guid PieceId, string Stage, string Reason, DateOnly? ValidUntil, Guid? NonconformanceId = null);

    /// <summary>Writes it down and opens the gates of its stage that the piece has come to; what was found before a step says nothing of what the step makes.</summary>
    internal static async Task RecordAsync(Work work, Concession of, DateTimeOffset now)
    {
        const string Concede = """
            insert into concession (id, owner_id, work_order_id, nonconformance_id, stage, reason, valid_until, granted_at, granted_by)
            values (@concession, @OwnerId, @WorkOrderId, @NonconformanceId::uuid, @Stage, @Reason, @ValidUntil, @now, @PersonId)
            """;
        const string ConcedePiece = "insert into concession_piece (concession_id, piece_id, work_order_id) values (@concession, @PieceId, @WorkOrderId)";
        const string OpenGates = """
            update piece_step s set opened_at = @now, opened_by = @PersonId, opened_how = 'concession', opened_reason = @Reason, row_version = s.row_version + 1
            from route_step r where r.id = s.route_step_id and s.piece_id = @PieceId and r.stage = @Stage and r.gate <> 'none' and s.opened_at is null and step_is_reached(s.id)
            """;
        var args = new { concession = Guid.CreateVersion7(now), of.OwnerId, of.WorkOrderId, of.NonconformanceId, of.Stage, of.Reason, of.ValidUntil, of.PieceId, work.Actor.PersonId, now };
        await work.ExecuteAsync(Concede, args);
        await work.ExecuteAsync(ConcedePiece, args);
        await work.ExecuteAsync(OpenGates, args);
    }

    /// <summary>Who goes on with a piece that was let go, said to one of its shops; one that has only a step of it learns of no other shop.</summary>
    internal static string Onward(PieceOnRoute piece, Guid reader, Guid? shop) =>
        piece.WhoseTurn is not { } turn ? "Nothing is left to do with it."
        : turn.Id == reader ? "Go on with the next step."
        : reader == shop || turn.Id == piece.OwnerId ? $"{turn.Name} goes on with it." : "Nothing more is to be measured for it.";

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Newest = """
            select r.id, r.piece_id, r.stage, r.verdict from report r
            where (r.piece_id, r.stage) = (select piece_id, stage from report where id = @ReportId)
            order by r.submitted_at desc, r.id desc limit 1
            """;

        private const string Settled = "select settled_verdict(@PieceId, @Stage)";

        private const string Open = "select number from nonconformance where piece_id = @PieceId and closed_at is null limit 1";

        private sealed record ReportRow(Guid Id, Guid PieceId, string Stage, string Verdict);

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<ReportRow>(Newest, new { request.ReportId }) is not { } report
                || await Measuring.PieceAsync(work, report.PieceId) is not { } piece)
                return new Outcome.NotFound();
            if (!actor.May(Deed.OpenGate, piece.RelationOf(actor)))
                return new Outcome.NotAllowed();
            await work.ExecuteAsync("select pg_advisory_xact_lock(hashtextextended(@PieceId::text, 0))", new { report.PieceId });
            // What came meanwhile was seen by nobody who concedes it.
            if (report.Id != request.ReportId)
                return new Outcome.Refused("A later report of this stage came in the meantime; look at that one.");
            if (await PieceRoutes.EndedAsync(work, report.PieceId) is { } ended)
                return new Outcome.Refused($"{piece.Serial} is {ended}: nothing more is released of it.");
            if (await work.ValueAsync<string>(Open, new { report.PieceId }) is { } number)
                return new Outcome.Refused($"Nonconformance {number} is open; decide it there.");
            var now = clock.GetUtcNow();
            var reason = request.Reason!.Trim();
            if (await work.ValueAsync<string>(Settled, new { report.PieceId, report.Stage }) == "conforms")
                return new Outcome.Refused($"Nothing at stage {report.Stage} waits for this; somebody may have released it.");
            // A stage without a gate has none to open; the piece has gone on, and somebody answers for that now.
            await RecordAsync(work, new Concession(piece.OwnerId, piece.WorkOrderId, report.PieceId, report.Stage, reason, request.ValidUntil), now);
            var stands = (await PieceRoutes.OfPieceAsync(work, report.PieceId))!;
            // The shop of the order, and whoever has a step at the stage.
            foreach (var organisation in stands.Route.Steps.Where(step => step.Stage == report.Stage).Select(step => step.OrganisationId).Append(piece.ShopId ?? piece.OwnerId)
                .Where(each => each != piece.OwnerId).Distinct())
            {
                await Tell.OrganisationAsync(
                    work,
                    now,
                    "released under concession",
                    organisation,
                    ["fabricator", "coater"],
                    piece.WorkOrderId,
                    piece.Id,
                    $"{piece.Serial} is released at stage {report.Stage} under a concession",
                    $"{actor.Name} released it although its report says “{report.Verdict}”: {reason}{(request.ValidUntil is { } until ? $"\nThe concession is valid until {LocalTime.Day(until)}." : "")}\n{Onward(stands, organisation, piece.ShopId)}",
                    $"/pieces/{piece.Id}");
            }
            await NextTurn.TellAsync(work, [report.PieceId], now);
            await work.CommitAsync();
            return new Outcome.Granted(piece.Serial);
        }
    }
}
