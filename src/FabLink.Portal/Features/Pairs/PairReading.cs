using Dapper;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.Web.Pictures;
using Npgsql;

namespace FabLink.Portal.Features.Pairs;

/// <summary>A matched pair as it is kept; <paramref name="Within"/> in mm or arc-seconds.</summary>
public sealed record PairRow(Guid Id, Guid OwnerId, Guid BuildId, string Name, decimal Within, string Unit, string Rule, int RowVersion, bool Removed)
{
    public const string Columns = "id, owner_id, build_id, name, within, unit, rule, row_version, removed_at is not null as removed";

    /// <summary>In mm or degrees.</summary>
    public string Say(decimal value) => Unit == "deg" ? $"{decimal.Round(value / 3600, 3):0.###}°" : $"{decimal.Round(value, 3):0.###} mm";
}

/// <summary>One of the two, as the record has it now; the value in mm or arc-seconds.</summary>
public sealed record PairSide(
    Guid PairId, bool IsLeft, string PartNumber, int Place, int Balloon, int Instance, string? Unit, int? Count, Guid? PieceId, string? Serial, Guid? WorkOrderId, Guid? ShopId,
    decimal? Value, decimal? ExpandedUncertainty)
{
    public string What => $"{Serial ?? $"{PartNumber}{(Place == 1 ? "" : $" ({Place})")}, not ordered yet"}, balloon {Balloon}{(Count is > 1 ? $".{Instance}" : "")}";

    /// <summary>deg or mm; null when its characteristic is not there any more.</summary>
    public string? Kind => Unit is null ? null : Units.TryParse(Unit, out var unit) && Units.IsAngle(unit) ? "deg" : "mm";
}

/// <summary>A pair judged from what is measured now.</summary>
public sealed record PairStanding(PairRow Pair, PairSide Left, PairSide Right)
{
    private readonly Lazy<ValueJudgement?> _judged = new(() => Left.Kind == Pair.Unit && Right.Kind == Pair.Unit && Left.Value - Right.Value is { } difference
        ? MatchedPairs.Judge(
            new Limits(-Pair.Within, Pair.Within),
            difference,
            Left.ExpandedUncertainty,
            Right.ExpandedUncertainty,
            Pair.Rule == "guarded" ? JudgingRule.Guarded : JudgingRule.Simple)
        : null);

    /// <summary>Left less right, when both are measured.</summary>
    public decimal? Difference => Left.Value - Right.Value;

    /// <summary>Of the difference (JCGM 100:2008, 5.1.2); null when one of the two is unknown.</summary>
    public decimal? ExpandedUncertainty => Left.ExpandedUncertainty is { } u && Right.ExpandedUncertainty is { } v ? (decimal)Math.Sqrt((double)((u * u) + (v * v))) : null;

    public string Verdict => _judged.Value is { } judged ? Stages.Word(judged.Verdict) : "not measured";

    public bool MissingUncertainty => _judged.Value is { MissingUncertainty: true };

    public string? Problem =>
        Left.Kind is null || Right.Kind is null ? "one of the two balloons is not on the drawing any more"
        : Left.Kind != Pair.Unit || Right.Kind != Pair.Unit ? "an angle is not compared with a length"
        : null;

    public Mark Mark => Verdict switch { "conforms" => Mark.Conforms, "does not conform" => Mark.DoesNotConform, "not proven" => Mark.NotProven, _ => Mark.None };

    public LimitBar? Bar => Difference is { } difference && Mark != Mark.None
        ? new LimitBar(-Shown(Pair.Within), Shown(Pair.Within), Shown(difference), ExpandedUncertainty is { } u ? Shown(u) : null, Mark, Pair.Unit == "deg" ? "°" : "mm")
        : null;

    private double Shown(decimal value) => (double)(Pair.Unit == "deg" ? value / 3600 : value);
}

/// <summary>Reads pairs with their two values. Works on any connection that may see them: the actor's, or the job's.</summary>
public sealed class PairReading(NpgsqlConnection connection, NpgsqlTransaction? transaction, CancellationToken cancellation)
{
    private const string OfBuild = $"select {PairRow.Columns} from pair where build_id = @build and removed_at is null order by name";

    private const string Sides = """
        with side as (
            select id, build_id, true as is_left, left_part_id as part_id, left_place as place, left_balloon as balloon, left_instance as instance from pair where id = any(@pairs)
            union all
            select id, build_id, false, right_part_id, right_place, right_balloon, right_instance from pair where id = any(@pairs))
        select s.id as pair_id, s.is_left, t.number as part_number, s.place, s.balloon, s.instance, c.unit, c.count, i.piece_id, i.serial, i.work_order_id, w.shop_id,
               m.value, m.expanded_uncertainty
        from side s join part t on t.id = s.part_id
             left join lateral (select p.piece_id, p.serial, p.revision_id, p.work_order_id from pieces_in_place(s.build_id) p where p.part_id = s.part_id and p.place = s.place) i on true
             left join work_order w on w.id = i.work_order_id
             left join lateral (
                 select c.id, c.unit, c.count
                 from revision r join characteristic c on c.revision_id = r.id and c.balloon = s.balloon
                 where r.part_id = s.part_id and (i.revision_id is null or r.id = i.revision_id)
                 order by r.released_at is null, length(r.letter) desc, r.letter desc limit 1) c on true
             left join lateral (
                 select v.value, v.expanded_uncertainty
                 from report r join measured_value v on v.report_id = r.id
                 where r.piece_id = i.piece_id and v.characteristic_id = c.id and v.instance = s.instance and v.value is not null
                 order by r.submitted_at desc, r.id desc limit 1) m on true
        """;

    public async Task<IReadOnlyList<PairStanding>> OfBuildAsync(Guid build) =>
        await OfAsync((await connection.QueryAsync<PairRow>(new CommandDefinition(OfBuild, new { build }, transaction, cancellationToken: cancellation))).AsList());

    public async Task<IReadOnlyList<PairStanding>> OfAsync(IReadOnlyList<PairRow> pairs)
    {
        var sides = (await connection.QueryAsync<PairSide>(new CommandDefinition(
            Sides, new { pairs = pairs.Select(pair => pair.Id).ToArray() }, transaction, cancellationToken: cancellation))).ToLookup(side => side.PairId);
        return [.. pairs.Select(pair => new PairStanding(pair, sides[pair.Id].First(side => side.IsLeft), sides[pair.Id].First(side => !side.IsLeft)))];
    }
}
