using FabLink.Engineering.Tolerances;
using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.Drawings;

/// <summary>Who changed a thing last, and when: what somebody is told whose own change came too late.</summary>
public sealed record Changed(string By, DateTimeOffset At);

/// <summary>What every change of a revision looks at first. It stays locked until the transaction ends.</summary>
internal sealed record RevisionRow(
    Guid Id,
    Guid OwnerId,
    Guid DrawingId,
    Guid PartId,
    string Letter,
    string Unit,
    string? GeneralTolerance,
    bool Welded,
    DateTimeOffset? ReleasedAt,
    int RowVersion)
{
    private const string Select = """
        select id, owner_id, drawing_id, part_id, letter, unit, general_tolerance, welded, released_at, row_version
        from revision where id = @id for update
        """;

    private const string SelectCharacteristics = $"""
        select {Characteristic.Columns} from characteristic where revision_id = @id order by balloon
        """;

    private const string Bump = """
        update revision set row_version = row_version + 1 where id = @id
        """;

    private const string SelectChange = """
        select coalesce(p.name, 'the portal') as by, a.at
        from audit a left join person p on p.id = a.person_id
        where a.table_name = 'revision' and a.row_key = @key order by a.id desc limit 1
        """;

    /// <summary>Null when there is none, or none that the actor may change.</summary>
    public static Task<RevisionRow?> LockAsync(Work work, Guid id) => work.RowAsync<RevisionRow>(Select, new { id });

    public static Task<IReadOnlyList<Characteristic>> CharacteristicsAsync(Work work, Guid id) =>
        work.RowsAsync<Characteristic>(SelectCharacteristics, new { id });

    public static async Task<Changed> LastChangeAsync(Work work, Guid id) =>
        await work.RowAsync<Changed>(SelectChange, new { key = id.ToString() })
        ?? throw new InvalidOperationException($"Revision {id} has no audit.");

    public static Task BumpAsync(Work work, Guid id) => work.ExecuteAsync(Bump, new { id });

    /// <summary>Units and general tolerances that a title block may have.</summary>
    public static bool IsUnit(string? unit) => unit is "mm" or "in";

    public static bool IsGeneralTolerance(string? text) =>
        string.IsNullOrWhiteSpace(text) || Engineering.Tolerances.GeneralTolerance.TryParse(text, out _);

    /// <summary>As it is kept: the designation in its usual spelling, or null.</summary>
    public static string? Spelled(string? generalTolerance) =>
        string.IsNullOrWhiteSpace(generalTolerance) ? null : Engineering.Tolerances.GeneralTolerance.Parse(generalTolerance).ToString();
}
