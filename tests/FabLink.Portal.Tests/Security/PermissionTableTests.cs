using System.Text;
using System.Text.RegularExpressions;
using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.Security;

/// <summary>docs/permissions.md is printed from the code and from the database itself; it cannot say anything else than what holds.</summary>
public sealed partial class PermissionTableTests
{
    private static readonly string _page = Repository.PathTo("docs", "permissions.md");

    private static readonly (Relation Relation, string Heading)[] _relations =
    [
        (Relation.Own, "own things"), (Relation.Owner, "as the build shop of the order"), (Relation.Shop, "as the shop of the order"), (Relation.Process, "as a shop with a step of the route"),
    ];

    [Fact]
    public async Task The_page_on_permissions_says_what_the_code_and_the_database_do()
    {
        var printed = await PrintAsync();
        if (Environment.GetEnvironmentVariable("FABLINK_WRITE_DOCS") == "1")
            await File.WriteAllTextAsync(_page, printed, TestContext.Current.CancellationToken);

        Assert.True(File.Exists(_page), "docs/permissions.md is not there: run this test once with FABLINK_WRITE_DOCS=1.");
        Assert.Equal(printed, (await File.ReadAllTextAsync(_page, TestContext.Current.CancellationToken)).ReplaceLineEndings("\n"));
    }

    [Fact]
    public void Every_deed_is_allowed_to_somebody_and_every_row_names_somebody()
    {
        Assert.Equal(Enum.GetValues<Deed>().Order(), Permissions.Table.Select(row => row.Deed).Distinct().Order());
        Assert.DoesNotContain(Permissions.Table, row => row.Roles == Roles.None);
    }

    private static async Task<string> PrintAsync()
    {
        var page = new StringBuilder("""
            # Permissions

            Printed by `PermissionTableTests` (write it again with `FABLINK_WRITE_DOCS=1`). What a person may *see* is decided by the row-level security
            policies of the database; what a person may *do* with what is seen is this table. An empty cell is a refusal.
            A shop submits reports only at the stages of its own steps, the shop of the order also at a stage of which the route has no step; the build shop at every stage.

            ## Who may do what

            | deed |
            """.ReplaceLineEndings("\n"));
        foreach (var (_, heading) in _relations)
            page.Append(' ').Append(heading).Append(" |");
        page.Append("\n|---|---|---|---|---|\n");
        foreach (var deed in Enum.GetValues<Deed>())
        {
            page.Append("| ").Append(Words(deed.ToString())).Append(" |");
            foreach (var (relation, _) in _relations)
            {
                var roles = Permissions.Table.Where(row => row.Deed == deed && row.Relation == relation).Aggregate(Roles.None, (all, row) => all | row.Roles);
                page.Append(' ').AppendJoin(", ", Enum.GetValues<Roles>().Where(role => role != Roles.None && roles.HasFlag(role)).Select(role => Words(role.ToString()))).Append(" |");
            }
            page.Append('\n');
        }
        page.Append("""

            ## What the roles of the database may do

            `fablink_app` serves requests, and only rows that the policies show to the organisation of the actor; without an actor it sees nothing.
            `fablink_jobs` sweeps and delivers without an actor. `fablink_signin` finds out who somebody is before there is an actor.
            None of them owns a table, bypasses a policy or may become another role. Columns in brackets: only these.

            | table | fablink_app | fablink_jobs | fablink_signin |
            |---|---|---|---|

            """.ReplaceLineEndings("\n"));
        foreach (var (table, app, jobs, signIn) in await GrantsAsync())
            page.Append($"| {table} | {app} | {jobs} | {signIn} |\n");
        return page.ToString();
    }

    private static async Task<IEnumerable<(string Table, string App, string Jobs, string SignIn)>> GrantsAsync()
    {
        const string Sql = """
            select c.relname::text as TableName, r.role, p.privilege, has_table_privilege(r.role, c.oid, p.privilege) as whole,
                   case when has_table_privilege(r.role, c.oid, p.privilege) then null
                        else (select string_agg(a.attname, ', ' order by a.attnum) from pg_attribute a
                              where a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped and p.privilege <> 'delete'
                                    and has_column_privilege(r.role, c.oid, a.attnum, replace(p.privilege, 'delete', 'select'))) end as columns
            from pg_class c, unnest(array['fablink_app', 'fablink_jobs', 'fablink_signin']) r (role),
                 unnest(array['select', 'insert', 'update', 'delete']) with ordinality p (privilege, place)
            where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p', 'v')
            order by c.relname, r.role, p.place
            """;
        await using var database = await (await TestCluster.SharedAsync()).CloneAsync();
        await using var owner = new NpgsqlConnection(database.OwnerConnectionString);
        var grants = await owner.QueryAsync<Grant>(Sql);
        return grants.GroupBy(grant => grant.TableName).OrderBy(table => table.Key, StringComparer.Ordinal)
            .Select(table => (table.Key, Of(table, DataSources.AppRole), Of(table, DataSources.JobsRole), Of(table, DataSources.SignInRole)));

        static string Of(IEnumerable<Grant> table, string role) => string.Join(", ", table
            .Where(grant => grant.Role == role && (grant.Whole || grant.Columns is not null))
            .Select(grant => grant.Whole ? grant.Privilege : $"{grant.Privilege} ({grant.Columns})"));
    }

    private static string Words(string name) => CapitalInside().Replace(name, " $0").ToLowerInvariant();

    [GeneratedRegex("(?<!^)[A-Z]")]
    private static partial Regex CapitalInside();

    private sealed record Grant(string TableName, string Role, string Privilege, bool Whole, string? Columns);
}
