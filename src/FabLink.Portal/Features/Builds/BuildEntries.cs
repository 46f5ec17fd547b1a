using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Builds;

/// <summary>One thing that is wrong with what was written into a form.</summary>
/// <param name="Field">As the form names it: <c>Links[2].From</c>.</param>
public sealed record FieldProblem(string Field, string Message);

/// <summary>What becomes of a chain or a pair that somebody writes.</summary>
public abstract record KeepOutcome
{
    private KeepOutcome()
    {
    }

    public sealed record Kept(Guid Id) : KeepOutcome;

    public sealed record Wrong(IReadOnlyList<FieldProblem> Problems) : KeepOutcome;

    public sealed record Stale(Changed Change, int RowVersion) : KeepOutcome;

    public sealed record NotFound : KeepOutcome;

    public sealed record NotAllowed : KeepOutcome;
}

/// <summary>
/// What chains and pairs share while they are written: a build that is there, a name of their own in it, nobody writing over what another changed
/// meanwhile, and a job that looks at the build again.
/// </summary>
/// <param name="table">chain or pair.</param>
internal sealed class BuildEntries(string table)
{
    private const string Build = "select id from build where id = @build for key share";

    private readonly string _current = $"select row_version from {table} where id = @id and build_id = @build and removed_at is null for update";

    private readonly string _taken = $"select exists (select 1 from {table} where build_id = @build and name = @name and removed_at is null and id is distinct from @id::uuid)";

    private readonly string _change = $"""
        select coalesce(p.name, 'the portal') as by, a.at from audit a left join person p on p.id = a.person_id
        where a.table_name = '{table}' and a.row_key = @key order by a.id desc limit 1
        """;

    private readonly string _remove = $"""
        update {table} set removed_at = @now, removed_by = @PersonId, row_version = row_version + 1 where id = @id and removed_at is null returning build_id
        """;

    /// <param name="id">Null for a new one.</param>
    /// <returns>Why it cannot be written, or null; the build and the entry are locked then.</returns>
    public async Task<KeepOutcome?> RefusalAsync(Work work, Guid build, Guid? id, int rowVersion)
    {
        if (await work.ValueAsync<Guid?>(Build, new { build }) is null)
            return new KeepOutcome.NotFound();
        if (id is null)
            return null;
        if (await work.ValueAsync<int?>(_current, new { build, id }) is not { } version)
            return new KeepOutcome.NotFound();
        return version == rowVersion ? null : new KeepOutcome.Stale((await work.RowAsync<Changed>(_change, new { key = id.ToString() }))!, version);
    }

    /// <summary>What is wrong with a name that another one of the build has; null when it is free.</summary>
    public async Task<FieldProblem?> NameTakenAsync(Work work, Guid build, Guid? id, string name) =>
        await work.ValueAsync<bool>(_taken, new { build, name, id })
            ? new FieldProblem("Name", $"There is a {table} {name} in this build already; choose another name.")
            : null;

    public static Task LookAgainAsync(Work work, Guid build, DateTimeOffset now) =>
        work.ExecuteAsync("select ask_recheck('re-check a build', @build, @now)", new { build, now });

    /// <summary>Takes it out of the build; how it stood is kept.</summary>
    /// <returns>The build, or null when there is no such thing.</returns>
    public async Task<Guid?> RemoveAsync(Database database, Actor actor, Guid id, DateTimeOffset now, CancellationToken cancellation)
    {
        if (!actor.May(Deed.WriteChains, Relation.Own))
            return null;
        await using var work = await database.BeginAsync(actor, cancellation);
        if (await work.ValueAsync<Guid?>(_remove, new { id, now, actor.PersonId }) is not { } build)
            return null;
        await LookAgainAsync(work, build, now);
        await work.CommitAsync();
        return build;
    }
}
