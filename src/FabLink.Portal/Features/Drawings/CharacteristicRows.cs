using System.Text.Json;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Drawings;

/// <summary>Writes the characteristics of a revision that is not released yet, in three statements whatever their number.</summary>
internal static class CharacteristicRows
{
    private static readonly JsonSerializerOptions Snake = new() { PropertyNamingPolicy = JsonNamingPolicy.SnakeCaseLower };

    private const string Delete = """
        delete from characteristic where revision_id = @revision and not balloon = any (@balloons)
        """;

    private const string Given = """
        jsonb_to_recordset(@rows::jsonb) as x (
            id uuid, balloon integer, kind text, name text, requirement text, unit text, nominal numeric, lower_limit numeric, upper_limit numeric,
            limits_from text, datums text, class text, stages text[], applies text, count integer, rule text, rounding text, locates text)
        """;

    private const string Update = $"""
        update characteristic c
        set kind = x.kind, name = x.name, requirement = x.requirement, unit = x.unit, nominal = x.nominal, lower_limit = x.lower_limit,
            upper_limit = x.upper_limit, limits_from = x.limits_from, datums = x.datums, class = x.class, stages = x.stages,
            applies = x.applies, count = x.count, rule = x.rule, rounding = x.rounding, locates = x.locates
        from {Given}
        where c.revision_id = @revision and c.balloon = x.balloon
        """;

    private const string Insert = $"""
        insert into characteristic (id, owner_id, revision_id, {Characteristic.Said})
        select id, @OrganisationId, @revision, {Characteristic.Said} from {Given}
        """;

    /// <summary>Makes the table be what is given; rows that say the same are left alone, so that the audit tells only what changed.</summary>
    public static async Task ReplaceAsync(Work work, DateTimeOffset now, Guid revision, IReadOnlyList<Characteristic> characteristics)
    {
        var before = (await RevisionRow.CharacteristicsAsync(work, revision)).ToDictionary(one => one.Balloon);
        await work.ExecuteAsync(Delete, new { revision, balloons = characteristics.Select(one => one.Balloon).ToArray() });
        var changed = characteristics.Where(one => before.TryGetValue(one.Balloon, out var old) && !one.SaysTheSameAs(old)).ToList();
        if (changed.Count > 0)
            await work.ExecuteAsync(Update, new { revision, rows = Json(changed, now) });
        await InsertAsync(work, now, revision, [.. characteristics.Where(one => !before.ContainsKey(one.Balloon))]);
    }

    public static async Task InsertAsync(Work work, DateTimeOffset now, Guid revision, IReadOnlyList<Characteristic> characteristics)
    {
        if (characteristics.Count > 0)
            await work.ExecuteAsync(Insert, new { revision, work.Actor.OrganisationId, rows = Json(characteristics, now) });
    }

    private static string Json(IReadOnlyList<Characteristic> characteristics, DateTimeOffset now) =>
        JsonSerializer.Serialize(
            characteristics.Select(one => new
            {
                Id = Guid.CreateVersion7(now),
                one.Balloon,
                one.Kind,
                one.Name,
                one.Requirement,
                one.Unit,
                one.Nominal,
                one.LowerLimit,
                one.UpperLimit,
                one.LimitsFrom,
                one.Datums,
                one.Class,
                one.Stages,
                one.Applies,
                one.Count,
                one.Rule,
                one.Rounding,
                one.Locates,
            }),
            Snake);
}
