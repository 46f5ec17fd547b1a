using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Joints;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Shifts;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Reports;

/// <summary>A report as it was judged: worst first, each value drawn in its tolerance zone.</summary>
public static class ShowReport
{
    public sealed record Head(
        Guid Id,
        Guid PieceId,
        string Stage,
        string Source,
        string? FileName,
        string? Sha256,
        bool OnBehalf,
        string Note,
        DateTimeOffset SubmittedAt,
        string SubmittedBy,
        string Organisation,
        string Verdict,
        int ValueCount,
        int FailedCount,
        int UnprovenCount,
        string[] Missing,
        bool IsNewest,
        string? Nonconformance,
        Guid? NonconformanceId,
        bool Waits,
        string? ReleasedBy,
        DateTimeOffset? ReleasedAt,
        string? ReleasedReason,
        DateOnly? ReleasedUntil);

    public sealed record Line(
        int Balloon,
        int Count,
        short Instance,
        string Name,
        string Kind,
        string Requirement,
        string Unit,
        decimal? LowerLimit,
        decimal? UpperLimit,
        string LimitsFrom,
        string Class,
        string Applies,
        string Rule,
        decimal? Value,
        string Typed,
        string TypedUnit,
        decimal? ExpandedUncertainty,
        string Instrument,
        string Note,
        string Verdict,
        decimal? OffBy,
        int? SizeBalloon,
        decimal? Bonus)
    {
        private Unit UnitOf => Units.TryParse(Unit, out var unit) ? unit : Engineering.Quantities.Unit.None;

        public string BalloonText => Count == 1 ? $"{Balloon}" : $"{Balloon}.{Instance}";

        public Mark Mark => Verdict switch
        {
            "conforms" => Mark.Conforms,
            "not proven" => Mark.NotProven,
            _ => Mark.DoesNotConform,
        };

        /// <summary>In the unit of the drawing.</summary>
        public string Shown(decimal? value) => value is not { } number ? ""
            : UnitOf == Engineering.Quantities.Unit.DegreeMinuteSecond ? Angle.FromArcSeconds(decimal.Round(number, 2)).ToString()
            : Trim(Units.FromBase(number, UnitOf));

        /// <summary>The upper limit with what the measured size adds to it.</summary>
        public decimal? Highest => UpperLimit + (Bonus ?? 0);

        /// <summary>What the modifier did, in words; null without one.</summary>
        public string? BonusText => SizeBalloon is not { } size ? null
            : Bonus is not null && Verdict == "not proven" && ExpandedUncertainty is { } own && Math.Abs(Value!.Value - Highest!.Value) > own
                ? $"the size, balloon {size}, came without an uncertainty or with too large a one, so its bonus ({Shown(Bonus)}) is not known closely: measure the size with its uncertainty"
            : Bonus is { } bonus ? $"bonus {Shown(bonus)} from the size, balloon {size}: {Shown(Highest)} allowed"
            : Verdict == "not proven" ? $"the size, balloon {size}, is not measured, so its bonus is not known: measure it"
            : $"the size, balloon {size}, is not measured; it does not decide here";

        public string Measured => Kind switch
        {
            "attribute" => Value == 1 ? "go" : "no go",
            "text" => Typed,
            _ => Shown(Value),
        };

        /// <summary>What was typed, where it is not what stands under it: another unit, an uncertainty beside it.</summary>
        public string? AsTyped => Kind is "attribute" or "text" || decimal.TryParse(Typed.Replace(',', '.'), System.Globalization.CultureInfo.InvariantCulture, out _) ? null
            : $"typed {Typed}";

        /// <summary>In the unit of the value beside it; null where none was given.</summary>
        public string? Uncertainty => ExpandedUncertainty is { } u && Kind is not ("attribute" or "text") ? $"±{Shown(u)}" : null;

        /// <summary>The unit that value and uncertainty are shown in; empty where the number carries its own sign.</summary>
        public string Symbol => Kind is "attribute" or "text" ? "" : CharacteristicWords.Symbol(Unit);

        public string Off => OffBy is not { } off ? "" : $"{(Value > Highest ? "+" : "−")}{Shown(off)} {Symbol}".TrimEnd();

        /// <summary>What is wrong with it in one word of the trade.</summary>
        public string Direction => OffBy is null ? "" : Value > Highest ? "too large" : "too small";

        /// <summary>Tolerance over twice the expanded uncertainty, where it is below the floor of 4 (common practice).</summary>
        public decimal? CoarseRatio => CoarseGauge.RatioOf(UpperLimit - LowerLimit, ExpandedUncertainty);

        public LimitBar? Bar => Kind is "attribute" or "text" || Value is null
            ? null
            : new LimitBar(Number(LowerLimit), Number(Highest), Number(Value), Number(ExpandedUncertainty), Mark, Units.Symbol(UnitOf), null);

        private double? Number(decimal? value) => value is { } number ? (double)Units.FromBase(number, UnitOf) : null;

        private static string Trim(decimal value) => (decimal.Round(value, 6) / 1.000000000000000000000000000000m).ToString();
    }

    /// <param name="ConcededBy">Of the concession that covers it; null where none does.</param>
    public sealed record Other(
        int Balloon, int Count, short Instance, string Name, string Requirement, string Typed, string Unit, string Verdict, Guid ReportId, string? ConcededBy, string? ConcededReason)
    {
        public string Measured => TypedValues.Words(Typed, Unit);

        public string BalloonText => Count == 1 ? $"{Balloon}" : $"{Balloon}.{Instance}";
    }

    /// <param name="Next">Where the piece stands now; null for a shop that has only a step of it.</param>
    /// <param name="Before">The first step that is not started yet.</param>
    public sealed record Sheet(Measuring.PieceRow Piece, Head Report, IReadOnlyList<Line> Lines, IReadOnlyList<JointsOfPiece.Line> Joints, bool MaySubmit, bool MayConcede, IReadOnlyList<Predicted> Expected, IReadOnlyList<Excused.Row> Excused, NextMove? Next, string? Before)
    {
        /// <summary>Where a value of this report ends; null where nobody knows yet.</summary>
        public Predicted? PredictedOf(Line line) =>
            Expected.FirstOrDefault(one => (one.Value.Balloon, one.Value.Instance) == (line.Balloon, line.Instance));

        /// <summary>What stands from other reports of the stage and is no yes: it counts in the verdict.</summary>
        public IReadOnlyList<Other> Others { get; init; } = [];

        /// <summary>The reason that was typed for a concession which was not granted; null where none was.</summary>
        public string? Unsaid { get; init; }

        /// <summary>What ended the piece, behind "it is"; null while it goes on.</summary>
        public string? Over { get; init; }

        /// <summary>It conformed, and since the sample of its line failed more is asked.</summary>
        public bool AskedSince { get; init; }

        /// <summary>What is outside its limits and nobody conceded.</summary>
        public int Failed => Lines.Count(line => line.Verdict == "does not conform") + Others.Count(other => other is { Verdict: "does not conform", ConcededBy: null });

        /// <inheritdoc cref="Failed"/>
        /// <summary>The step that had not begun when this conforming report came, so that it did not open its hold; null when there is none.</summary>
        public string? TooEarly { get; init; }

        /// <summary>The step whose witness point a concession on this report passes as well; null when there is none.</summary>
        public string? PassesWitness { get; init; }

        public int Unproven => Lines.Count(line => line.Verdict == "not proven") + Others.Count(other => other is { Verdict: "not proven", ConcededBy: null });

        /// <summary>Of what is not proven here, what lies outside its limits as measured.</summary>
        public int Outside => Lines.Count(line => line is { Verdict: "not proven", OffBy: not null });

        public IReadOnlyList<Predicted> Leaving => [.. Expected.Where(one => one.Prediction.Outside)];
    }

    public sealed class Handler(Database database)
    {
        private const string Heads = """
            select r.id, r.piece_id, r.stage, r.source, r.file_name, r.sha256, r.on_behalf, r.note, r.submitted_at, coalesce(p.name, 'somebody') as submitted_by,
                   coalesce(o.name, 'another shop') as organisation, r.verdict, r.value_count, r.failed_count, r.unproven_count, r.missing,
                   not exists (select 1 from report n where n.piece_id = r.piece_id and n.stage = r.stage
                               and (n.submitted_at, n.id) > (r.submitted_at, r.id)) as is_newest,
                   nc.number as nonconformance, nc.id as nonconformance_id,
                   exists (select 1 from piece_step s join route_step t on t.id = s.route_step_id
                           where s.piece_id = r.piece_id and t.stage = r.stage and t.gate <> 'none' and s.opened_at is null)
                       or settled_verdict(r.piece_id, r.stage) <> 'conforms' as waits,
                   released.by as released_by, released.at as released_at, released.reason as released_reason, released.until as released_until
            from report r left join person p on p.id = r.submitted_by left join organisation o on o.id = r.organisation_id
                 left join lateral (
                     select let.by, let.at, let.reason, let.until from (
                     select e.name as by, s.opened_at as at, s.opened_reason as reason,
                            (select g.valid_until from concession_piece x join concession g on g.id = x.concession_id
                             where x.piece_id = s.piece_id and g.stage = t.stage and g.granted_at = s.opened_at limit 1) as until
                     from piece_step s join route_step t on t.id = s.route_step_id left join person e on e.id = s.opened_by
                     where s.piece_id = r.piece_id and t.stage = r.stage and s.opened_how = 'concession' and s.opened_at >= r.submitted_at
                     union all
                     select e.name, g.granted_at, g.reason, g.valid_until from concession_piece x join concession g on g.id = x.concession_id join person e on e.id = g.granted_by
                     where x.piece_id = r.piece_id and g.stage = r.stage
                           -- One that was there before releases it where it covers all that stood then and is no yes, what this report brought with it.
                           and (g.granted_at >= r.submitted_at or not exists (
                               select 1 from (select distinct on (v.characteristic_id, v.instance) v.verdict, b.submitted_at
                                              from report b join measured_value v on v.report_id = b.id
                                              where b.piece_id = r.piece_id and b.stage = r.stage and (b.submitted_at, b.id) <= (r.submitted_at, r.id)
                                              order by v.characteristic_id, v.instance, b.submitted_at desc, b.id desc) stood
                               where stood.verdict <> 'conforms' and stood.submitted_at > g.granted_at))) let
                     -- What a later report said anew was released, if at all, with that one.
                     where not exists (select 1 from report n where n.piece_id = r.piece_id and n.stage = r.stage and n.submitted_at > r.submitted_at and n.submitted_at <= let.at)
                     order by let.at >= r.submitted_at desc, case when let.at >= r.submitted_at then let.at end, let.at desc limit 1) released on true
                 left join nonconformance nc on nc.piece_id = r.piece_id and nc.stage = r.stage and nc.closed_at is null
            where r.id = @id
            """;

        /// <summary>What other reports left at the stage that is no yes; the newest of each value.</summary>
        private const string Others = """
            select balloon, count, instance, name, requirement, typed, unit, verdict, report_id, g.by as conceded_by, g.reason as conceded_reason from (
                select distinct on (v.characteristic_id, v.instance) c.balloon, c.count, v.instance, c.name, c.requirement, v.typed, v.unit, v.verdict, v.report_id, r.submitted_at
                from measured_value v join report r on r.id = v.report_id join characteristic c on c.id = v.characteristic_id
                where r.piece_id = @PieceId and r.stage = @Stage order by v.characteristic_id, v.instance, r.submitted_at desc, r.id desc) newest
                left join lateral (
                    select e.name as by, c.reason from concession_piece x join concession c on c.id = x.concession_id join person e on e.id = c.granted_by
                    where x.piece_id = @PieceId and c.stage = @Stage and c.granted_at >= newest.submitted_at and newest.submitted_at <= conceded_at(@PieceId, @Stage)
                    order by c.granted_at limit 1) g on true
            where verdict <> 'conforms' and report_id <> @Id order by balloon, instance
            """;

        /// <summary>The step whose hold a report opens and that had not begun when this one came.</summary>
        private const string Early = """
            select t.kind from piece_step s join route_step t on t.id = s.route_step_id
            where s.piece_id = @PieceId and t.stage = @Stage and t.gate = 'hold' and t.opens_by = 'report' and s.opened_at is null
              and (not coalesce(step_is_reached(s.id), true) or s.started_at > @SubmittedAt and t.kind not in ('inspect', 'receive')) order by s.ordinal limit 1
            """;

        private const string Witness = """
            select t.kind from piece_step s join route_step t on t.id = s.route_step_id
            where s.piece_id = @PieceId and t.stage = @Stage and t.gate = 'witness' and s.opened_at is null and s.started_at is not null order by s.ordinal limit 1
            """;

        private const string Owner = "select name from organisation where id = @OwnerId";

        private const string Lines = """
            select c.balloon, c.count, v.instance, c.name, c.kind, c.requirement, c.unit, c.lower_limit, c.upper_limit, c.limits_from, c.class, c.applies, c.rule,
                   v.value, v.typed, v.unit as typed_unit, v.expanded_uncertainty, v.instrument, v.note, v.verdict, v.off_by, c.size_balloon, v.bonus
            from measured_value v join characteristic c on c.id = v.characteristic_id
            where v.report_id = @id
            order by array_position(array['does not conform', 'not proven', 'conforms'], v.verdict),
                     array_position(array['critical', 'major', 'minor'], c.class),
                     v.off_by / nullif(c.upper_limit - c.lower_limit, 0) desc nulls last, c.balloon, v.instance
            """;

        /// <summary>What is asked now and has no value; more than when the report came, where the sample of its line failed since.</summary>
        private static async Task<IReadOnlyList<string>> MissingAsync(Work work, Measuring.PieceRow piece, string stage)
        {
            if (await work.ValueAsync<string>("select standing_verdict(@Id, @stage)", new { piece.Id, stage }) != "incomplete")
                return [];
            var asked = new StageJudging.Asked(await Measuring.CharacteristicsAsync(work, [piece.RevisionId], stage));
            return asked.Judge((await StageJudging.StandingAsync(work, [piece.Id], stage))[piece.Id], (await Reports.Excused.OfAsync(work, [piece.Id]))[piece.Id]).Missing;
        }

        /// <returns>Null when there is no such report for this person.</returns>
        public async Task<Sheet?> HandleAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Head>(Heads, new { id }) is not { } head
                || await Measuring.PieceAsync(work, head.PieceId) is not { } piece
                || !actor.May(Deed.SeeReports, piece.RelationOf(actor)))
                return null;
            var relation = piece.RelationOf(actor);
            var more = head is { IsNewest: true, Verdict: "conforms" } ? await MissingAsync(work, piece, head.Stage) : [];
            if (more.Count > 0)
                head = head with { Verdict = "incomplete", Missing = [.. more] };
            var over = await PieceRoutes.EndedAsync(work, piece.Id);
            var route = relation == Relation.Process ? null : await PieceRoutes.OfPieceAsync(work, piece.Id);
            return new Sheet(
                piece,
                head,
                await work.RowsAsync<Line>(Lines, new { id }),
                await JointsOfPiece.OfAsync(work, piece.Id),
                actor.May(Deed.SubmitReport, relation) && await Measuring.NotGivenAsync(work, [piece], head.Stage) is null,
                head is { IsNewest: true, Nonconformance: null, Waits: true } && head.Verdict != "conforms" && actor.May(Deed.OpenGate, relation),
                head is { Stage: "tack", IsNewest: true } && piece.ShopId is not null ? await Predictions.OfReportAsync(work.Connection, null, id, cancellation) : [],
                [.. (await Reports.Excused.OfAsync(work, [piece.Id]))[piece.Id]],
                route is null ? null : NextMove.Of(route, actor, relation, await work.ValueAsync<string>(Owner, new { piece.OwnerId }) ?? "the build shop", accepted: true, before: null),
                route?.Route.Steps.FirstOrDefault(step => step.StartedAt is null)?.Kind)
            {
                Over = over,
                TooEarly = head is { IsNewest: true, Verdict: "conforms" } ? await work.ValueAsync<string>(Early, new { head.PieceId, head.Stage, head.SubmittedAt }) : null,
                PassesWitness = await work.ValueAsync<string>(Witness, new { head.PieceId, head.Stage }),
                AskedSince = more.Count > 0,
                Others = head.IsNewest ? await work.RowsAsync<Other>(Others, new { head.Id, head.PieceId, head.Stage }) : [],
            };
        }
    }
}
