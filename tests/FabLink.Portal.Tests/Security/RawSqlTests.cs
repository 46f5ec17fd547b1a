using Dapper;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using Npgsql;

namespace FabLink.Portal.Tests.Security;

/// <summary>Somebody who has taken the app's own connection: every table of the catalog, with and without a context.</summary>
[Collection(nameof(TwoShops))]
public sealed class RawSqlTests(TwoShops shops)
{
    private const string NotAllowed = PostgresErrorCodes.InsufficientPrivilege;

    private const string GeneratedAlways = "428C9";

    /// <summary>What a shop may well have of its own, with no parent that could be somebody else's.</summary>
    private static readonly string[] _withoutParent = ["build", "part", "person", "instrument"];

    [Fact]
    public async Task Without_a_context_no_table_shows_a_row()
    {
        var seen = new List<string>();
        var full = 0;
        foreach (var table in await TablesAsync())
        {
            full += await AskOwnerAsync<long>($"select count(*) from {table}") > 0 ? 1 : 0;
            if (await CountAsync(null, $"select count(*) from {table}") is { } rows and > 0)
                seen.Add($"{table}: {rows}");
        }

        Assert.True(seen.Count == 0, string.Join("\n", seen));
        Assert.True(full > 20, $"Only {full} tables have rows: the walk proves nothing.");
    }

    [Fact]
    public async Task Another_build_shop_sees_its_own_rows_and_no_other()
    {
        var seen = new List<string>();
        foreach (var table in await TablesAsync())
        {
            var own = await OwnColumnAsync(table) is { } column ? $"{column} is distinct from '{shops.OtherOwner.OrganisationId}'" : "true";
            if (await CountAsync(shops.OtherOwner, $"select count(*) from {table} where {own}") is { } rows and > 0)
                seen.Add($"{table}: {rows}");
        }

        Assert.True(seen.Count == 0, string.Join("\n", seen));
    }

    [Fact]
    public async Task A_rival_shop_of_the_same_build_shop_sees_nothing_of_the_order_nor_of_its_parts_nor_of_the_rival()
    {
        var seen = new List<string>();
        foreach (var table in await TablesAsync())
        {
            foreach (var condition in await OfDunlinAsync(table))
            {
                Assert.NotNull(await AskOwnerAsync<object>($"select count(*) from {table} where {condition}"));
                if (await CountAsync(shops.OtherShop, $"select count(*) from {table} where {condition}") is { } rows and > 0)
                    seen.Add($"{table} where {condition}: {rows}");
            }
        }

        Assert.True(seen.Count == 0, string.Join("\n", seen));
    }

    [Fact]
    public async Task The_coater_sees_the_steps_given_to_it_and_of_the_order_nothing_else()
    {
        var order = $"work_order_id = '{shops.Ids["order"]}'";
        foreach (var table in new[] { "work_order_line", "promise", "question", "packing_slip", "packing_slip_piece", "attachment", "upload", "report", "measured_value", "nonconformance", "concession" })
            Assert.Equal(0, await CountAsync(shops.Coater, $"select count(*) from {table} where {order}"));
        Assert.Equal(0, await CountAsync(shops.Coater, $"select count(*) from work_order where id = '{shops.Ids["order"]}'"));
        Assert.Equal(0, await CountAsync(shops.Coater, $"select count(*) from piece_step where organisation_id <> '{shops.Coater.OrganisationId}'"));
        Assert.True(await CountAsync(shops.Coater, $"select count(*) from piece_step where {order}") > 0);
    }

    [Fact]
    public async Task Rows_of_others_are_neither_changed_nor_deleted()
    {
        var touched = new List<string>();
        foreach (var table in await TablesAsync())
        {
            foreach (var (actor, condition) in (await OfDunlinAsync(table)).SelectMany(condition => Attackers.Select(actor => (actor, condition))))
            {
                foreach (var column in await AskColumnsAsync(table))
                    await TryAsync(actor, $"update {table} set {column} = {column} where {condition}");
                await TryAsync(actor, $"delete from {table} where {condition}");
            }
        }

        Assert.True(touched.Count == 0, string.Join("\n", touched));

        async Task TryAsync(Actor? actor, string sql)
        {
            var (rows, error) = await RunAsync(actor, sql);
            if (error is null && rows > 0)
                touched.Add($"{actor?.Name ?? "nobody"}: {sql}: {rows}");
            else if (error is not null && error != NotAllowed && !error.StartsWith("FL", StringComparison.Ordinal) && error != GeneratedAlways)
                touched.Add($"{actor?.Name ?? "nobody"}: {sql}: {error}");
        }
    }

    [Fact]
    public async Task A_row_in_the_name_of_others_is_refused_and_so_is_one_of_ones_own_that_hangs_on_a_foreign_parent()
    {
        var slipped = new List<string>();
        var tried = 0;
        foreach (var table in await TablesAsync())
        {
            foreach (var condition in await OfDunlinAsync(table))
            {
                if (await AskOwnerAsync<string>($"select to_jsonb(t)::text from {table} t where {condition} limit 1") is not { } row)
                    continue;
                foreach (var actor in Attackers)
                {
                    tried++;
                    await TryAsync(actor, table, row, ownNow: false);
                    if (actor is not null && !_withoutParent.Contains(table))
                        await TryAsync(actor, table, row, ownNow: true);
                }
            }
        }

        Assert.True(slipped.Count == 0, string.Join("\n", slipped));
        Assert.True(tried > 60, $"Only {tried} rows were tried.");

        async Task TryAsync(Actor? actor, string table, string row, bool ownNow)
        {
            const string Change = """
                select (@row::jsonb
                    || case when @row::jsonb ? 'id' then jsonb_build_object('id', gen_random_uuid()) else '{}'::jsonb end
                    || case when @own and @row::jsonb ? 'owner_id' then jsonb_build_object('owner_id', @organisation) else '{}'::jsonb end
                    || case when @own and @row::jsonb ? 'organisation_id' then jsonb_build_object('organisation_id', @organisation) else '{}'::jsonb end
                    || case when @row::jsonb ? 'released_at' then '{"released_at": null, "released_by": null}'::jsonb else '{}'::jsonb end
                    || case when @row::jsonb ? 'letter' then '{"letter": "W"}'::jsonb else '{}'::jsonb end
                    || case when @row::jsonb ? 'serial' then '{"serial": "forged"}'::jsonb else '{}'::jsonb end
                    || case when @row::jsonb ? 'sha256' and @row::jsonb ? 'stage' then jsonb_build_object('sha256', repeat('a', 64)) else '{}'::jsonb end
                    || case when @row::jsonb ? 'number' then '{"number": "forged"}'::jsonb else '{}'::jsonb end
                    || case when @row::jsonb ? 'started_at' then '{"started_at": null, "started_by": null, "finished_at": null, "finished_by": null, "opened_at": null, "opened_by": null, "opened_how": null}'::jsonb else '{}'::jsonb end)::text
                """;
            var forged = await AskOwnerAsync<string>(Change, new { row, own = ownNow, organisation = actor?.OrganisationId });
            // A row that changed hands entirely without a parent of others is no attack.
            if (ownNow && forged == await AskOwnerAsync<string>(Change, new { row, own = false, organisation = actor?.OrganisationId }) && !forged!.Contains("work_order_id", StringComparison.Ordinal))
                return;
            var (_, error) = await RunAsync(actor, $"insert into {table} select * from jsonb_populate_record(null::{table}, @forged::jsonb)", new { forged });
            if (error != NotAllowed && error?.StartsWith("FL", StringComparison.Ordinal) != true && error != GeneratedAlways)
                slipped.Add($"{actor?.Name ?? "nobody"} into {table}{(ownNow ? " as its own" : "")}: {error ?? "written"}");
        }
    }

    [Theory]
    [InlineData("set role fablink_signin")]
    [InlineData("set role fablink_jobs")]
    [InlineData("set session authorization fablink_jobs")]
    [InlineData("alter table piece disable row level security")]
    [InlineData("alter table measured_value disable trigger all")]
    [InlineData("drop policy see on piece")]
    [InlineData("create policy all_of_it on piece to fablink_app using (true)")]
    [InlineData("set session_replication_role = replica")]
    [InlineData("set local row_security = off; select count(*) from piece")]
    [InlineData("select password_hash from credential")]
    [InlineData("select security_stamp from credential")]
    [InlineData("select * from sign_in_link")]
    [InlineData("select * from data_protection_key")]
    [InlineData("select * from counter")]
    [InlineData("select * from hangfire.job")]
    [InlineData("select * from pg_authid")]
    [InlineData("select pg_read_file('/etc/passwd')")]
    [InlineData("copy (select 1) to program 'true'")]
    [InlineData("create table mine (x int)")]
    [InlineData("create function mine() returns int language sql as 'select 1'")]
    [InlineData("insert into outbox (id, kind, subject_id, created_at, next_try_at, message_id) values (gen_random_uuid(), 'mail a sign-in link', gen_random_uuid(), now(), now(), '<x@y>')")]
    [InlineData("update outbox set done_at = now()")]
    [InlineData("insert into audit (db_role, table_name, row_key, action) values ('x', 'y', 'z', 'insert')")]
    [InlineData("update audit set after = null")]
    [InlineData("delete from audit")]
    [InlineData("truncate audit")]
    [InlineData("update report set verdict = 'conforms'")]
    [InlineData("delete from report")]
    [InlineData("update measured_value set value = 0")]
    [InlineData("delete from measured_value")]
    [InlineData("update promise set promised_date = '2030-01-01'")]
    [InlineData("delete from promise")]
    [InlineData("update concession set reason = 'other'")]
    [InlineData("delete from piece_step")]
    [InlineData("insert into party values (gen_random_uuid(), 'owner', gen_random_uuid(), gen_random_uuid())")]
    [InlineData("insert into notice (id) values (gen_random_uuid())")]
    public async Task The_apps_role_cannot_even_for_the_owner_of_the_rows(string sql)
    {
        var (_, error) = await RunAsync(shops.Engineer, sql);

        Assert.Equal(NotAllowed, error);
    }

    [Theory]
    [InlineData("audit")]
    [InlineData("report")]
    [InlineData("measured_value")]
    [InlineData("promise")]
    public async Task Not_even_the_owner_of_the_database_changes_what_was_said(string table)
    {
        await using var owner = await shops.OpenAsync();
        foreach (var sql in new[] { $"update {table} set {(table == "audit" ? "table_name = table_name" : "work_order_id = work_order_id")}", $"delete from {table}", $"truncate {table} cascade" })
            Assert.Equal("FL007", (await Assert.ThrowsAsync<PostgresException>(() => owner.ExecuteAsync(sql))).SqlState);
    }

    [Theory]
    [InlineData("update revision set note = 'other' where id = '{revision}'")]
    [InlineData("update revision set released_at = null, released_by = null where id = '{revision}'")]
    [InlineData("delete from revision where id = '{revision}'")]
    [InlineData("update characteristic set upper_limit = upper_limit + 1 where revision_id = '{revision}'")]
    [InlineData("delete from characteristic where revision_id = '{revision}'")]
    [InlineData("update characteristic set revision_id = '{draft}' where revision_id = '{revision}'")]
    [InlineData("delete from revision_file where revision_id = '{revision}'")]
    [InlineData("insert into characteristic select gen_random_uuid(), owner_id, revision_id, 9999, kind, name, requirement, unit, nominal, lower_limit, upper_limit, limits_from, datums, class, stages, applies, count, rule, rounding from characteristic where revision_id = '{revision}' limit 1")]
    public async Task A_released_revision_never_changes(string sql)
    {
        var (_, error) = await RunAsync(shops.Engineer, shops.Fill(sql));

        Assert.Equal("FL001", error);
        await using var owner = await shops.OpenAsync();
        Assert.Equal("FL001", (await Assert.ThrowsAsync<PostgresException>(() => owner.ExecuteAsync(shops.Fill(sql)))).SqlState);
    }

    [Theory]
    [InlineData("update piece_step set started_at = now(), started_by = '{person}' where id = '{step}'")]
    [InlineData("update nonconformance set closed_at = now(), closed_by = '{person}' where id = '{nonconformance}'; update piece_step set started_at = now(), started_by = '{person}' where id = '{step}'")]
    [InlineData("update nonconformance set disposition = 'use as is', disposed_at = now(), disposed_by = '{person}' where id = '{nonconformance}'")]
    [InlineData("update nonconformance set closed_at = now(), closed_by_report_id = report_id where id = '{nonconformance}'")]
    [InlineData("update nonconformance set piece_id = (select id from piece where id <> piece_id limit 1) where id = '{nonconformance}'")]
    [InlineData("update piece_step set opened_at = now(), opened_how = 'person', opened_reason = 'why not' where piece_id = '{piece}' and finished_at is not null")]
    [InlineData("update piece_step set opened_at = now(), opened_how = 'concession', opened_reason = 'why not' where piece_id = '{piece}' and finished_at is not null")]
    [InlineData("update piece_step set opened_at = now(), opened_how = 'report', report_id = '{report}' where piece_id = '{piece}' and finished_at is not null")]
    [InlineData("update piece_step set ordinal = 1 where id = '{step}'")]
    [InlineData("update route_step set gate = 'none', opens_by = null where work_order_id = '{order}'")]
    [InlineData("insert into concession (id, owner_id, work_order_id, reason, granted_at, granted_by) select gen_random_uuid(), owner_id, id, 'mine', now(), '{person}' from work_order where id = '{order}'")]
    [InlineData("update work_order set shop_id = owner_id where id = '{order}'")]
    [InlineData("update work_order set purchase_order_number = 'another' where id = '{order}'")]
    [InlineData("update work_order set closed_at = now(), closed_by = '{person}' where id = '{order}'")]
    public async Task The_shop_does_not_get_past_the_hold_and_does_not_decide_for_the_build_shop(string sql)
    {
        var (rows, error) = await RunAsync(shops.Shop, shops.Fill(sql));

        // Some are refused by a rule, some by a policy that shows nothing to change.
        Assert.True(error is not null || rows == 0, $"{rows} rows");
        Assert.True(error is null or NotAllowed || error.StartsWith("FL", StringComparison.Ordinal), error);
    }

    [Theory]
    [InlineData("select tell('x', '{organisation}', array['engineer'], '{order}', null, 'spam', 'spam', '/', null, now())")]
    [InlineData("select share_work_order('{order}')")]
    [InlineData("select next_number('{organisation}', 'work order')")]
    [InlineData("select found_supplier(gen_random_uuid(), 'Mine', 'fabricator', gen_random_uuid(), 'Me', 'me@mine.example', 'x', now())")]
    public async Task The_functions_that_run_as_the_owner_ask_who_calls(string sql)
    {
        var filled = shops.Fill(sql).Replace("{organisation}", $"{shops.Shop.OrganisationId}", StringComparison.Ordinal);
        foreach (var actor in new[] { null, shops.OtherShop })
            Assert.Equal(NotAllowed, (await RunAsync(actor, filled)).Error);
    }

    [Theory]
    [InlineData("select password_hash from credential")]
    [InlineData("select * from attachment")]
    [InlineData("update measured_value set value = 0")]
    [InlineData("select * from draft")]
    [InlineData("select * from audit")]
    [InlineData("select * from data_protection_key")]
    [InlineData("update report set verdict = 'conforms'")]
    [InlineData("update work_order set closed_at = now()")]
    [InlineData("insert into notice (id) values (gen_random_uuid())")]
    public async Task The_jobs_role_cannot(string sql) => Assert.Equal(NotAllowed, await RefusedAsync(shops.Sources.Jobs, sql));

    [Theory]
    [InlineData("select * from work_order")]
    [InlineData("select * from part")]
    [InlineData("select * from report")]
    [InlineData("select * from notice")]
    [InlineData("select * from outbox")]
    [InlineData("select * from audit")]
    [InlineData("update person set roles = '{engineer}'")]
    [InlineData("select next_number(gen_random_uuid(), 'x')")]
    public async Task The_sign_in_role_cannot(string sql) => Assert.Equal(NotAllowed, await RefusedAsync(shops.Sources.SignIn, sql));

    private Actor?[] Attackers => [null, shops.OtherOwner, shops.OtherShop];

    private async Task<IReadOnlyList<string>> TablesAsync()
    {
        await using var owner = await shops.OpenAsync();
        return (await owner.QueryAsync<string>("select relname::text from pg_class where relnamespace = 'public'::regnamespace and relkind in ('r', 'p', 'v', 'm') order by 1")).AsList();
    }

    /// <summary>Conditions that pick rows of Dunlin, of its order or of its parts.</summary>
    private async Task<IReadOnlyList<string>> OfDunlinAsync(string table)
    {
        var columns = await AskColumnsAsync(table);
        var conditions = new List<string>();
        if (columns.Contains("work_order_id"))
            conditions.Add($"work_order_id = '{shops.Ids["order"]}'");
        if (columns.Contains("organisation_id"))
            conditions.Add($"organisation_id = '{shops.Shop.OrganisationId}'");
        if (columns.Contains("revision_id"))
            conditions.Add($"revision_id = '{shops.Ids["revision"]}'");
        if (table is "part" or "drawing" or "revision" or "work_order" or "build" or "chain" or "pair")
            conditions.Add($"id = '{shops.Ids[table == "work_order" ? "order" : table]}'");
        if (table == "organisation")
            conditions.Add($"id = '{shops.Shop.OrganisationId}'");
        if (columns.Contains("person_id"))
            conditions.Add($"person_id = '{shops.Shop.PersonId}'");
        return conditions;
    }

    private async Task<string?> OwnColumnAsync(string table)
    {
        var columns = await AskColumnsAsync(table);
        return table == "organisation" ? "id" : new[] { "organisation_id", "owner_id" }.FirstOrDefault(columns.Contains);
    }

    private async Task<IReadOnlyList<string>> AskColumnsAsync(string table)
    {
        await using var owner = await shops.OpenAsync();
        return (await owner.QueryAsync<string>(
            "select attname::text from pg_attribute where attrelid = @table::regclass and attnum > 0 and not attisdropped order by attnum", new { table })).AsList();
    }

    private async Task<T?> AskOwnerAsync<T>(string sql, object? args = null)
    {
        await using var owner = await shops.OpenAsync();
        return await owner.ExecuteScalarAsync<T>(sql, args);
    }

    /// <summary>How many rows; null when the table is not for the app at all.</summary>
    private async Task<long?> CountAsync(Actor? actor, string sql)
    {
        await using var connection = await shops.Sources.App.OpenConnectionAsync(TestContext.Current.CancellationToken);
        await using var transaction = await BeginAsync(connection, actor);
        try
        {
            return await connection.ExecuteScalarAsync<long>(sql, transaction: transaction);
        }
        catch (PostgresException refused) when (refused.SqlState == NotAllowed)
        {
            return null;
        }
    }

    /// <summary>Runs as the app's role and takes everything back.</summary>
    private async Task<(int Rows, string? Error)> RunAsync(Actor? actor, string sql, object? args = null)
    {
        await using var connection = await shops.Sources.App.OpenConnectionAsync(TestContext.Current.CancellationToken);
        await using var transaction = await BeginAsync(connection, actor);
        try
        {
            return (await connection.ExecuteAsync(sql, args, transaction), null);
        }
        catch (PostgresException refused)
        {
            return (0, refused.SqlState);
        }
    }

    private static async Task<NpgsqlTransaction> BeginAsync(NpgsqlConnection connection, Actor? actor)
    {
        var transaction = await connection.BeginTransactionAsync();
        if (actor is not null)
        {
            await connection.ExecuteAsync(
                "select set_config('fablink.person', @person, true), set_config('fablink.organisation', @organisation, true)",
                new { person = $"{actor.PersonId}", organisation = $"{actor.OrganisationId}" },
                transaction);
        }
        return transaction;
    }

    private static async Task<string?> RefusedAsync(NpgsqlDataSource source, string sql)
    {
        await using var connection = await source.OpenConnectionAsync(TestContext.Current.CancellationToken);
        await using var transaction = await connection.BeginTransactionAsync();
        return (await Assert.ThrowsAsync<PostgresException>(() => connection.ExecuteAsync(sql, transaction: transaction))).SqlState;
    }
}
