using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Testing;
using Npgsql;

namespace FabLink.Portal.Tests.Cluster;

public sealed class MigratorTests
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_connection_lost_while_the_tables_of_the_jobs_are_made_is_taken_up_again_and_nothing_is_missing()
    {
        var cluster = await TestCluster.SharedAsync();
        await using var whole = await cluster.CloneAsync();
        await using var database = await cluster.EmptyAsync();
        await using var owner = new NpgsqlConnection(database.OwnerConnectionString);
        await owner.OpenAsync(Cancellation);
        // A sequence counts on through a rollback, so the session ends itself at the third change of the schema and at no other.
        await owner.ExecuteAsync("""
            create sequence ends;
            create function end_once() returns event_trigger language plpgsql as $$
            begin
                if exists (select from pg_event_trigger_ddl_commands() where schema_name = 'hangfire') and nextval('public.ends') = 3 then
                    perform pg_terminate_backend(pg_backend_pid());
                end if;
            end $$;
            create event trigger end_once on ddl_command_end execute function end_once();
            """);

        await Migrator.MigrateAsync(database.OwnerConnectionString, Cancellation);

        Assert.True(await owner.ExecuteScalarAsync<long>("select last_value from ends") > 3);
        await using var other = new NpgsqlConnection(whole.OwnerConnectionString);
        const string Columns = "select table_name || '.' || column_name from information_schema.columns where table_schema = 'hangfire' order by 1";
        Assert.Equal(await other.QueryAsync<string>(Columns), await owner.QueryAsync<string>(Columns));
        const string Version = "select version from hangfire.schema";
        Assert.Equal(await other.ExecuteScalarAsync<int>(Version), await owner.ExecuteScalarAsync<int>(Version));
    }

    [Fact]
    public async Task Two_portals_that_start_at_once_migrate_once()
    {
        var cluster = await TestCluster.SharedAsync();
        await using var database = await cluster.EmptyAsync();

        await Task.WhenAll(
            Migrator.MigrateAsync(database.OwnerConnectionString, Cancellation),
            Migrator.MigrateAsync(database.OwnerConnectionString, Cancellation));

        await using var owner = new NpgsqlConnection(database.OwnerConnectionString);
        Assert.Equal(
            await owner.ExecuteScalarAsync<long>("select count(distinct scriptname) from schemaversions"),
            await owner.ExecuteScalarAsync<long>("select count(*) from schemaversions"));
    }
}
