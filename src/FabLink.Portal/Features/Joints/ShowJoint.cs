using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.Joints;

/// <summary>One joint: how it stands as drawn and as built, what limits it, what to change, and how it stood before.</summary>
public static class ShowJoint
{
    public sealed record Head(
        Guid Id,
        Guid BuildId,
        string Build,
        string Name,
        Guid PartId,
        string PartNumber,
        string Pattern,
        int Place,
        decimal FilmMm,
        Guid? MatePartId,
        string? MateNumber,
        string? MatePattern,
        int? MatePlace,
        Guid? SurveyId,
        string? Survey,
        decimal MateFilmMm,
        decimal WantedMarginMm,
        decimal RotationLimitDegrees,
        int RowVersion);

    public sealed record CheckRow(int Ordinal, DateTimeOffset CheckedAt, string Because, Guid? ReportId, string? Serial, string Form, string Verdict, decimal? MarginMm, decimal? Probability, string Answer);

    public sealed record HoldRow(Guid Id, Guid PieceId, string Serial, DateTimeOffset RaisedAt, DateTimeOffset? LiftedAt, string? LiftedBy, string? Reason);

    public sealed record PieceRow(Guid PieceId, string Serial, Guid PartId, int Place);

    /// <param name="Finding">The newest; null while nothing looked at it yet.</param>
    /// <param name="LookedAt">The job has not looked yet at something that came.</param>
    public sealed record Page(Actor Actor, Head Head, JointFinding? Finding, bool LookedAt, IReadOnlyList<CheckRow> Checks, IReadOnlyList<HoldRow> Holds, PieceRow? Piece, PieceRow? MatePiece)
    {
        public bool MayWrite => Actor.May(Deed.WriteJoints, Relation.Own);

        /// <summary>How it stood and what it held, the newest first; what follows from a look stands above it.</summary>
        public IReadOnlyList<Moment> History =>
        [
            .. Checks.Select(check => (Order: 0, Moment: new Moment(check.CheckedAt, check, "")))
                .Concat(Holds.Select(hold => (Order: 1, Moment: new Moment(hold.RaisedAt, null, $"{hold.Serial} held"))))
                .Concat(Holds.Where(hold => hold.LiftedAt is not null).Select(hold => (Order: 2, Moment: new Moment(
                    hold.LiftedAt!.Value, null, $"{hold.Serial} let go{(hold.LiftedBy is null ? ": it bolts up" : $" by {hold.LiftedBy}: {hold.Reason}")}"))))
                .OrderByDescending(one => one.Moment.At).ThenByDescending(one => one.Order).Select(one => one.Moment),
        ];
    }

    /// <param name="Check">How it stood then; null where <paramref name="Words"/> say what was done.</param>
    public sealed record Moment(DateTimeOffset At, CheckRow? Check, string Words);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string SelectHead = """
            select j.id, j.build_id, b.number as build, j.name, j.part_id, part.number as part_number, j.pattern, j.place, j.film_mm, j.mate_part_id, mate.number as mate_number,
                   j.mate_pattern, j.mate_place, j.mate_survey_id as survey_id, s.name as survey, j.mate_film_mm, j.wanted_margin_mm, j.rotation_limit_degrees, j.row_version
            from joint j join build b on b.id = j.build_id join part on part.id = j.part_id left join part mate on mate.id = j.mate_part_id left join survey s on s.id = j.mate_survey_id
            where j.id = @id and j.removed_at is null
            """;

        private const string Checks = """
            select c.ordinal, c.checked_at, c.because, c.report_id, p.serial, c.form, c.verdict, c.margin_mm, c.probability, c.answer::text as answer
            from joint_check c left join report r on r.id = c.report_id left join piece p on p.id = r.piece_id
            where c.joint_id = @id order by c.ordinal desc limit 50
            """;

        private const string Holds = """
            select h.id, h.piece_id, p.serial, h.raised_at, h.lifted_at, by.name as lifted_by, h.reason
            from joint_hold h join piece p on p.id = h.piece_id left join person by on by.id = h.lifted_by where h.joint_id = @id order by h.raised_at desc
            """;

        private const string Pieces = "select piece_id, serial, part_id, place from pieces_in_place(@build) where part_id = any(@parts)";

        private const string Lift = """
            update joint_hold set lifted_at = @now, lifted_by = @PersonId, reason = @reason where joint_id = @id and lifted_at is null returning piece_id
            """;

        private const string Makers = """
            select w.shop_id, w.id as work_order_id, p.id as piece_id, p.serial from piece p join work_order w on w.id = p.work_order_id where p.id = any(@pieces)
            """;

        private sealed record MakerRow(Guid ShopId, Guid WorkOrderId, Guid PieceId, string Serial);

        /// <returns>Null when there is none that the actor may see.</returns>
        public async Task<Page?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(SelectHead, new { id }) is not { } head)
                return null;
            var checks = await work.RowsAsync<CheckRow>(Checks, new { id });
            var pieces = await work.RowsAsync<PieceRow>(Pieces, new { build = head.BuildId, parts = new[] { head.PartId, head.MatePartId ?? head.PartId } });
            return new Page(
                actor,
                head,
                checks.Count > 0 ? JointJson.Read<JointFinding>(checks[0].Answer) : null,
                await work.ValueAsync<bool>("select joint_being_looked_at(@id)", new { id }),
                checks,
                await work.RowsAsync<HoldRow>(Holds, new { id }),
                pieces.FirstOrDefault(piece => piece.PartId == head.PartId && piece.Place == head.Place),
                head.MatePartId is null ? null : pieces.FirstOrDefault(piece => piece.PartId == head.MatePartId && piece.Place == head.MatePlace));
        }

        /// <summary>An engineer lets held pieces go on although the joint does not bolt up, with a reason that stays.</summary>
        /// <returns>The serials let go; null when the actor may not, none when nothing was held.</returns>
        public async Task<IReadOnlyList<string>?> LiftAsync(Actor actor, Guid id, string reason, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteJoints, Relation.Own))
                return null;
            await using var work = await database.BeginAsync(actor, cancellation);
            var now = clock.GetUtcNow();
            var serials = await LetGoAsync(work, now, id, reason.Trim(), $"{actor.Name} lifted the hold of its joint: {reason.Trim()}");
            await work.CommitAsync();
            return serials;
        }

        /// <summary>Lifts what the joint holds and tells the shops.</summary>
        /// <param name="reason">Stays with the hold.</param>
        /// <returns>The serials let go.</returns>
        internal static async Task<IReadOnlyList<string>> LetGoAsync(Work work, DateTimeOffset now, Guid id, string reason, string said)
        {
            var pieces = await work.RowsAsync<Guid>(Lift, new { id, now, work.Actor.PersonId, reason });
            var makers = await work.RowsAsync<MakerRow>(Makers, new { pieces = pieces.ToArray() });
            foreach (var maker in makers.Where(maker => maker.ShopId != work.Actor.OrganisationId))
                await Notices.Tell.OrganisationAsync(work, now, "joint", maker.ShopId, ["fabricator"], maker.WorkOrderId, maker.PieceId, $"{maker.Serial} may go on", said, $"/pieces/{maker.PieceId}");
            await NextTurn.TellAsync(work, pieces, now);
            return [.. makers.Select(maker => maker.Serial).Order(StringComparer.Ordinal)];
        }
    }

    public sealed record LiftRequest(string? Reason);

    public sealed class Validator : AbstractValidator<LiftRequest>
    {
        public Validator() => RuleFor(request => request.Reason).NotEmpty().WithMessage("Say why the piece may go on although the joint does not bolt up.").MaximumLength(1000);
    }
}
