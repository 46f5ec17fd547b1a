using System.Reflection;
using System.Text.RegularExpressions;
using System.Xml.Linq;
using Dapper;
using FabLink.Portal.Platform.Web;
using FabLink.Testing;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Npgsql;

namespace FabLink.Portal.Tests.Security;

public sealed partial class ArchitectureTests
{
    public static TheoryData<string> Controllers => [.. Directory
        .EnumerateFiles(Repository.PathTo("src", "FabLink.Portal"), "*Controller.cs", SearchOption.AllDirectories)
        .Select(path => Path.GetRelativePath(Repository.Root, path))
        .Where(path => !path.Contains("/obj/", StringComparison.Ordinal) && !path.Contains("/bin/", StringComparison.Ordinal))];

    [Fact]
    public void Every_action_says_who_may_come()
    {
        var actions = typeof(Program).Assembly.GetTypes().Where(type => type.IsAssignableTo(typeof(ControllerBase)) && !type.IsAbstract)
            .SelectMany(type => type.GetMethods(BindingFlags.Instance | BindingFlags.Public | BindingFlags.DeclaredOnly).Where(method => !method.IsSpecialName && method.GetCustomAttribute<NonActionAttribute>() is null))
            .ToList();
        Assert.NotEmpty(actions);
        Assert.Empty(actions.Where(action => !Says(action) && !Says(action.DeclaringType!)).Select(action => $"{action.DeclaringType!.Name}.{action.Name}"));

        static bool Says(MemberInfo member) =>
            member.GetCustomAttributes<MayAttribute>().Any() || member.GetCustomAttribute<AllowAnonymousAttribute>() is not null;
    }

    [Theory]
    [MemberData(nameof(Controllers))]
    public void A_controller_does_nothing_but_HTTP(string controller)
    {
        var source = File.ReadAllText(Repository.PathTo(controller));

        Assert.DoesNotMatch(Sql(), source);
        Assert.DoesNotMatch(Drivers(), source);
    }

    [Fact]
    public void What_is_true_about_metal_needs_no_package_and_knows_no_portal()
    {
        var project = XDocument.Load(Repository.PathTo("src", "FabLink.Engineering", "FabLink.Engineering.csproj"));

        Assert.Empty(project.Descendants("PackageReference").Concat(project.Descendants("ProjectReference")).Concat(project.Descendants("FrameworkReference")));
        Assert.Empty(typeof(Engineering.InputError).Assembly.GetReferencedAssemblies()
            .Where(name => name.Name is not "netstandard" && !name.Name!.StartsWith("System", StringComparison.Ordinal)).Select(name => name.Name));
    }

    [Fact]
    public async Task Every_table_of_the_migrations_has_row_level_security_and_belongs_to_none_of_the_portals_roles()
    {
        await using var database = await (await TestCluster.SharedAsync()).CloneAsync();
        await using var owner = new NpgsqlConnection(database.OwnerConnectionString);
        var created = Directory.EnumerateFiles(Repository.PathTo("src", "FabLink.Portal", "Migrations"), "*.sql")
            .SelectMany(file => Table().Matches(File.ReadAllText(file)).Select(match => match.Groups[1].Value)).ToHashSet();
        var guarded = (await owner.QueryAsync<string>("""
            select relname::text from pg_class c
            where relnamespace = 'public'::regnamespace and relkind in ('r', 'p') and relrowsecurity
                  and pg_get_userbyid(relowner) not in ('fablink_app', 'fablink_jobs', 'fablink_signin')
            """)).ToHashSet();

        Assert.NotEmpty(created);
        Assert.Empty(created.Except(guarded));
    }

    [Fact]
    public async Task A_function_that_runs_as_the_owner_fixes_its_search_path_and_is_not_open_to_everybody()
    {
        await using var database = await (await TestCluster.SharedAsync()).CloneAsync();
        await using var owner = new NpgsqlConnection(database.OwnerConnectionString);
        var loose = await owner.QueryAsync<string>("""
            select p.proname::text from pg_proc p
            where p.pronamespace = 'public'::regnamespace and p.prosecdef
                  and (p.proconfig is null or not exists (select 1 from unnest(p.proconfig) c where c like 'search_path=%')
                       or exists (select 1 from aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) a where a.grantee = 0 and a.privilege_type = 'EXECUTE'))
            """);

        Assert.Empty(loose);
    }

    [GeneratedRegex(@"""\s*(select|insert\s+into|delete\s+from|update\s+\w+\s+set|with\s+\w+\s+as)\b", RegexOptions.IgnoreCase)]
    private static partial Regex Sql();

    [GeneratedRegex(@"\b(Npgsql|Dapper|DataSources|IDbConnection)\b")]
    private static partial Regex Drivers();

    [GeneratedRegex(@"^\s*create table (?:if not exists )?(\w+)", RegexOptions.Multiline)]
    private static partial Regex Table();
}
