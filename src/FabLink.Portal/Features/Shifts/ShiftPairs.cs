using Dapper;
using FabLink.Engineering.Forecasting;
using Npgsql;

namespace FabLink.Portal.Features.Shifts;

/// <summary>
/// Pairs of values of the same characteristic, instance and piece: the newest at tack, and the newest at the first later stage at which the
/// revision asks for it again. One build shop, one outside shop, one kind and one later stage make one shift.
/// </summary>
public static class ShiftPairs
{
    /// <summary>Older pieces say little about how a shop welds today; this also bounds what one question may cost.</summary>
    public const int NewestReports = 500;

    /// <summary>Scatter below which a few pairs that agree are not believed: mm for lengths, degrees for angles.</summary>
    public static readonly ShiftPrior Prior = new(Scale: 0.05);

    /// <summary>The first stage after tack at which a characteristic <c>c</c> is checked, as <c>later.stage</c>.</summary>
    internal const string LaterStage = """
        cross join lateral (
            select o.stage
            from unnest(array['as welded', 'as machined', 'before coat', 'after coat', 'receiving', 'installed']) with ordinality o (stage, place)
            where o.stage = any (c.stages) order by o.place limit 1) later
        """;

    /// <summary>Only what is a size that may move.</summary>
    internal const string Moves = "c.kind not in ('attribute', 'text', 'film')";

    private const string Pairs = $"""
        with tacked as (
            select s.owner_id, s.shop_id, r.id, r.piece_id, r.submitted_at
            from (select distinct owner_id, shop_id from work_order
                  where (@owner::uuid is null or owner_id = @owner) and (@shop::uuid is null or shop_id = @shop)) s
                 cross join lateral (
                     select r.id, r.piece_id, r.submitted_at from report r join work_order w on w.id = r.work_order_id
                     where r.stage = 'tack' and r.owner_id = s.owner_id and w.shop_id = s.shop_id
                     order by r.submitted_at desc, r.id desc limit 500) r),
        first as (
            select distinct on (t.piece_id, v.characteristic_id, v.instance)
                   t.owner_id, t.shop_id, t.piece_id, v.characteristic_id, v.instance, v.value, c.kind, c.unit in ('deg', 'dms', 'rad') as angle, later.stage
            from tacked t join measured_value v on v.report_id = t.id join characteristic c on c.id = v.characteristic_id
                 {LaterStage}
            where v.value is not null and {Moves}
            order by t.piece_id, v.characteristic_id, v.instance, t.submitted_at desc, t.id desc)
        select f.owner_id, f.shop_id, f.kind, f.angle, f.stage, f.value as at_tack, l.value as later
        from first f cross join lateral (
            select v.value from report r join measured_value v on v.report_id = r.id
            where r.piece_id = f.piece_id and r.stage = f.stage and v.characteristic_id = f.characteristic_id and v.instance = f.instance and v.value is not null
            order by r.submitted_at desc, r.id desc limit 1) l
        """;

    private sealed record PairRow(Guid OwnerId, Guid ShopId, string Kind, bool Angle, string Stage, decimal AtTack, decimal Later);

    /// <param name="owner">Of one build shop only; null for all that the connection may see.</param>
    /// <param name="shop">Of one outside shop only.</param>
    /// <returns>Most pairs first.</returns>
    public static async Task<IReadOnlyList<Shift>> LearnAsync(
        NpgsqlConnection connection, NpgsqlTransaction? transaction, Guid? owner, Guid? shop, CancellationToken cancellation)
    {
        var rows = await connection.QueryAsync<PairRow>(new CommandDefinition(Pairs, new { owner, shop }, transaction, cancellationToken: cancellation));
        return
        [
            .. rows.GroupBy(row => (row.OwnerId, row.ShopId, row.Kind, row.Angle, row.Stage))
                .Select(group => new Shift(
                    group.Key.OwnerId, group.Key.ShopId, group.Key.Kind, group.Key.Angle, group.Key.Stage, group.Count(), Learn(group)))
                .OrderByDescending(shift => shift.Pairs).ThenBy(shift => shift.Kind, StringComparer.Ordinal),
        ];
    }

    private static ShiftAnswer? Learn(IEnumerable<PairRow> rows)
    {
        var pairs = rows.Select(row => new ShiftPair(Scaled(row.AtTack, row.Angle), Scaled(row.Later, row.Angle))).ToList();
        return pairs.Count < 2 ? null : StageShift.Learn(pairs, Prior);
    }

    /// <summary>Base units (mm, arc-seconds) as mm and degrees.</summary>
    internal static double Scaled(decimal value, bool angle) => (double)(angle ? value / 3600 : value);
}

/// <summary>What is known of one shop, kind and later stage.</summary>
/// <param name="Learned">In mm or degrees; null with a single pair.</param>
public sealed record Shift(Guid OwnerId, Guid ShopId, string Kind, bool Angle, string Stage, int Pairs, ShiftAnswer? Learned)
{
    public bool Used => Learned is { Used: true };

    public string Unit => Angle ? "°" : "mm";
}
