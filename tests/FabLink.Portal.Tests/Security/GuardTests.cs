using Dapper;
using FabLink.Portal.Features.Demo;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.Reports;
using FabLink.Portal.Tests.WorkOrders;
using Npgsql;

namespace FabLink.Portal.Tests.Security;

/// <summary>A person who may do something, with the app's own connection and their own context, past every handler: what still must not be written.</summary>
public sealed class GuardTests(Scene scene) : IClassFixture<Scene>
{
    private const string NotAllowed = PostgresErrorCodes.InsufficientPrivilege;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_submitted_report_takes_no_further_value()
    {
        var flange = await Flange.TackedAsync(scene);
        var report = (await flange.MeasuredAsync([.. flange.Good().Where(value => value.Instance != 10)])).ReportId;
        const string Late = """
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, verdict)
            values (@report, @Order, @Holes, 10, 13.5, 'mm', '13.5', 'conforms')
            """;

        foreach (var actor in new[] { scene.Ida, scene.Mara })
            Assert.Equal("FL007", await ErrorAsync(actor, Late, new { report, flange.Order, flange.Holes }));
    }

    [Theory]
    [InlineData("13.5", 10, 2)]
    [InlineData("13.71", 10, 1)]
    [InlineData("13.5", 11, 1)]
    public async Task A_report_comes_whole_with_values_that_it_asks_for_and_none_called_better_than_its_limits(string value, int instance, int said)
    {
        var flange = await Flange.TackedAsync(scene);
        Assert.Equal("FL007", await ForgeAsync(flange, decimal.Parse(value, System.Globalization.CultureInfo.InvariantCulture), instance, said));
        Assert.Null(await ForgeAsync(flange, 13.5m, 10, 1));
        // Values with no report of theirs in the same breath, or a report with none, are no report.
        const string Bare = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
            select @id, owner_id, work_order_id, id, revision_id, @OrganisationId, 'tack', 'typed', @id, now(), @PersonId, 'conforms', 1, 0, 0 from piece where id = @Piece
            """;
        Assert.Equal("FL007", await ErrorAsync(scene.Ida, Bare, new { id = Guid.CreateVersion7(), scene.Ida.OrganisationId, scene.Ida.PersonId, flange.Piece }));
        Assert.Equal(NotAllowed, await ErrorAsync(scene.Ida, Bare, new { id = Guid.CreateVersion7(), scene.Mara.OrganisationId, scene.Ida.PersonId, flange.Piece }));
    }

    [Fact]
    public async Task A_hold_is_not_opened_by_an_old_report_that_newer_values_contradict()
    {
        var flange = await Flange.TackedAsync(scene);
        var good = (await flange.MeasuredAsync(flange.Good())).ReportId;
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.8m, 7));
        var tack = (await scene.StepsAsync(flange.Order, "fit and tack"))[0];
        const string Open = "update piece_step set opened_at = now(), opened_by = @PersonId, opened_how = 'report', report_id = @good where id = @tack";

        Assert.Equal("FL006", await ErrorAsync(scene.Ida, Open, new { scene.Ida.PersonId, good, tack }));
        await flange.MeasuredAsync(Flange.Value(flange.Holes, 13.6m, 7));
        Assert.Null(await flange.HeldAsync());
    }

    [Fact]
    public async Task What_a_report_opens_is_not_released_by_word_and_a_concession_is_recorded_first()
    {
        var flange = await Flange.TackedAsync(scene);
        var tack = (await scene.StepsAsync(flange.Order, "fit and tack"))[0];
        foreach (var how in new[] { "person", "concession" })
        {
            var open = $"update piece_step set opened_at = now(), opened_by = @PersonId, opened_how = '{how}', opened_reason = 'why not' where id = @tack";
            Assert.Equal("FL006", await ErrorAsync(scene.Mara, open, new { scene.Mara.PersonId, tack }));
        }
    }

    [Theory]
    [InlineData("update piece_step set started_at = now(), started_by = {other} where id = {cut of fresh}")]
    [InlineData("update piece_step set started_at = now(), started_by = {other organisation's} where id = {cut of fresh}")]
    [InlineData("update piece_step set finished_at = now(), finished_by = {other} where id = {tack}")]
    [InlineData("update piece_step set asked_at = now(), asked_by = {other} where id = {tack}")]
    [InlineData("update work_order set accepted_at = now(), accepted_by = {other} where id = {issued}")]
    [InlineData("update work_order set declined_at = now(), declined_by = {other}, decline_reason = 'no' where id = {issued}")]
    [InlineData("update work_order set accepted_at = now(), accepted_by = {me}, accepted_for = true where id = {issued}")]
    [InlineData("update piece_step set finished_at = now(), finished_by = {me}, on_behalf = true where id = {tack}")]
    [InlineData("insert into promise (id, work_order_id, line_id, promised_date, made_at, made_by) select gen_random_uuid(), work_order_id, id, '2030-01-01', now(), {other} from work_order_line where work_order_id = {order}")]
    [InlineData("insert into promise (id, work_order_id, line_id, promised_date, made_at, made_by, on_behalf) select gen_random_uuid(), work_order_id, id, '2030-01-01', now(), {me}, true from work_order_line where work_order_id = {order}")]
    [InlineData("insert into question (id, work_order_id, body, asked_at, asked_by) values (gen_random_uuid(), {order}, 'why', now(), {other})")]
    [InlineData("insert into packing_slip (id, work_order_id, number, shipped_at, shipped_by) values (gen_random_uuid(), {order}, 'PS-9', now(), {other})")]
    [InlineData("insert into attachment (id, work_order_id, organisation_id, name, file_type, sha256, size, added_at, added_by) values (gen_random_uuid(), {order}, {us}, 'a.pdf', 'pdf', repeat('a', 64), 1, now(), {other})")]
    [InlineData("insert into upload (id, work_order_id, line_id, organisation_id, stage, file_name, sha256, size, uploaded_at, uploaded_by) select gen_random_uuid(), work_order_id, id, {us}, 'tack', 'a.csv', repeat('a', 64), 1, now(), {other} from work_order_line where work_order_id = {order}")]
    public async Task Whoever_writes_is_who_it_says_and_for_whom(string sql)
    {
        var error = await ErrorAsync(scene.Ida, await FillAsync(scene.Ida, sql));

        Assert.Equal("FL011", error);
    }

    [Theory]
    [InlineData("insert into concession (id, owner_id, work_order_id, reason, granted_at, granted_by) values (gen_random_uuid(), {us}, {order}, 'fits', now(), {other})")]
    [InlineData("insert into build (id, owner_id, number, name, created_at, created_by) values (gen_random_uuid(), {us}, 'RH-99', '', now(), {other})")]
    [InlineData("update work_order set closed_at = now(), closed_by = {other} where id = {order}")]
    [InlineData("update revision set released_at = now(), released_by = {other} where id = {draft revision}")]
    [InlineData("update work_order set accepted_at = now(), accepted_by = {me} where id = {issued}")]
    [InlineData("update piece_step set finished_at = now(), finished_by = {me} where id = {tack}")]
    [InlineData("update piece_step set opened_at = now(), opened_by = {other}, opened_how = 'person', opened_reason = 'seen' where id = {tack}")]
    public async Task Nor_does_the_build_shop_write_in_another_name_or_for_the_shop_without_saying_so(string sql) =>
        Assert.Equal("FL011", await ErrorAsync(scene.Mara, await FillAsync(scene.Mara, sql)));

    [Fact]
    public async Task What_was_said_of_an_order_stays_said()
    {
        var order = await scene.AcceptedAsync();
        Assert.Equal("FL008", await ErrorAsync(scene.Ida, "update work_order set accepted_at = null, accepted_by = null where id = @order", new { order }));
    }

    [Theory]
    [InlineData("update piece_step set asked_at = now() - interval '25 hours', asked_by = {me} where id = {tack}")]
    [InlineData("update piece_step set finished_at = now() - interval '1 day', finished_by = {me} where id = {tack}")]
    [InlineData("update piece_step set finished_at = now() + interval '1 day', finished_by = {me} where id = {tack}")]
    [InlineData("insert into question (id, work_order_id, body, asked_at, asked_by) values (gen_random_uuid(), {order}, 'why', now() - interval '3 days', {me})")]
    [InlineData("insert into promise (id, work_order_id, line_id, promised_date, made_at, made_by) select gen_random_uuid(), work_order_id, id, '2030-01-01', now() - interval '3 days', {me} from work_order_line where work_order_id = {order}")]
    public async Task What_is_said_is_said_now(string sql)
    {
        var filled = await FillAsync(scene.Ida, sql);
        await Story.EndAsync(scene.OwnerConnectionString, Cancellation);
        try
        {
            Assert.Equal("FL011", await ErrorAsync(scene.Ida, filled));
            Assert.Null(await ErrorAsync(scene.Ida, System.Text.RegularExpressions.Regex.Replace(filled, @"now\(\) [+-] interval '[^']+'", "now()")));
        }
        finally
        {
            await Story.BeginAsync(scene.OwnerConnectionString, Cancellation);
        }
    }

    [Theory]
    [InlineData("insert into story default values")]
    [InlineData("delete from story")]
    public async Task A_story_is_the_owners_to_tell(string sql) => Assert.Equal(NotAllowed, await ErrorAsync(scene.Mara, sql));

    [Fact]
    public async Task Every_table_that_the_app_writes_and_that_says_who_or_when_is_watched()
    {
        const string Unwatched = """
            select c.relname::text || '.' || a.attname from pg_class c join pg_attribute a on a.attrelid = c.oid
            where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p') and a.attnum > 0 and not a.attisdropped 
              and (a.attname like '%\_by' and a.atttypid = 'uuid'::regtype or a.attname like '%\_at' and a.atttypid = 'timestamptz'::regtype)
              and has_any_column_privilege('fablink_app', c.oid, 'insert, update')
              and not exists (select 1 from pg_trigger t where t.tgrelid = c.oid and t.tgfoid = 'who_and_when'::regproc and t.tgenabled = 'O')
            order by 1
            """;
        await using var owner = await scene.OwnerAsync();
        Assert.Empty(await owner.QueryAsync<string>(Unwatched));
    }

    [Fact]
    public async Task Nothing_starts_before_the_order_is_accepted_by_no_path_and_by_nobody()
    {
        var order = await scene.IssuedAsync(scene.Line(route: [new("blast", scene.Teal, null), new("weld", null, null)]));
        var blast = await scene.StepsAsync(order, "blast");

        var refused = Assert.IsType<StartStep.Outcome.Refused>(await scene.StartAsync(scene.Wren, blast));
        Assert.Equal("FL010", refused.Why.Code);
        Assert.Contains("is not accepted", refused.Why.Sentence, StringComparison.Ordinal);
        const string Start = "update piece_step set started_at = now(), started_by = @PersonId, on_behalf = @OnBehalf where id = any(@blast)";
        Assert.Equal("FL010", await ErrorAsync(scene.Mara, Start, new { scene.Mara.PersonId, OnBehalf = true, blast }));
        Assert.IsType<OrderAnswer.Given>(await new AcceptWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ida, new(order), Cancellation));
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Wren, blast));
    }

    [Fact]
    public async Task A_stage_that_somebody_else_has_a_step_at_is_not_the_shops_to_report()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("cut", null, "cut"), new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, "receiving")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        const string Report = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
            select @id, owner_id, work_order_id, id, revision_id, @OrganisationId, @stage, 'typed', @id, now(), @PersonId, 'conforms', 1, 0, 0 from piece where id = @piece;
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, verdict)
            select @id, work_order_id, @CradleBore, 1, 25, 'mm', '25', 'conforms' from piece where id = @piece and @stage in ('tack', 'after coat')
            """;
        Task<string?> ReportAsync(Actor actor, string stage) =>
            ErrorAsync(actor, Report, new { id = Guid.CreateVersion7(), actor.OrganisationId, actor.PersonId, stage, piece, scene.CradleBore });

        foreach (var stage in new[] { "after coat", "receiving" })
            Assert.Equal("FL017", await ReportAsync(scene.Ida, stage));
        Assert.Equal("FL017", await ReportAsync(scene.Wren, "receiving"));
        Assert.Equal("FL017", await ReportAsync(scene.Wren, "tack"));
        Assert.Null(await ReportAsync(scene.Ida, "tack"));
        Assert.Null(await ReportAsync(scene.Wren, "after coat"));
        Assert.Null(await ReportAsync(scene.Mara, "after coat"));
    }

    [Fact]
    public async Task A_person_is_what_people_of_their_organisation_can_be()
    {
        const string Add = "insert into person (id, organisation_id, name, roles, created_at) values (gen_random_uuid(), @OrganisationId, 'Bo Fen', @roles, now())";
        const string Change = "update person set roles = @roles where id = @PersonId";
        foreach (var (actor, kind) in new[] { (scene.Ida, "fabricator"), (scene.Wren, "coater"), (scene.Mara, "build shop") })
        {
            foreach (var role in new[] { "engineer", "buyer", "fabricator", "coater" })
            {
                var fits = Permissions.RolesOf(kind).Contains(role);
                foreach (var sql in new[] { Add, Change })
                    Assert.Equal((role, fits ? null : NotAllowed), (role, await ErrorAsync(actor, sql, new { actor.OrganisationId, actor.PersonId, roles = new[] { role } })));
            }
        }
    }

    /// <summary>A report of one hole by the fabricator, written as raw SQL in one transaction; the code of what refuses it.</summary>
    private Task<string?> ForgeAsync(Flange flange, decimal value, int instance, int said)
    {
        const string Sql = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
            select @id, owner_id, work_order_id, id, revision_id, @OrganisationId, 'tack', 'typed', @id, now(), @PersonId, 'conforms', @said, 0, 0 from piece where id = @Piece;
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, verdict) values (@id, @Order, @Holes, @instance, @value, 'mm', '', 'conforms')
            """;
        return ErrorAsync(scene.Ida, Sql, new { id = Guid.CreateVersion7(), scene.Ida.OrganisationId, scene.Ida.PersonId, flange.Piece, flange.Order, flange.Holes, said, instance, value });
    }

    /// <summary>The code of the error, if any; nothing stays written, but what is checked at the commit is checked.</summary>
    private async Task<string?> ErrorAsync(Actor actor, string sql, object? args = null)
    {
        try
        {
            await using var work = await scene.Database.BeginAsync(actor, Cancellation);
            if (await work.ExecuteAsync(sql, args) == 0)
                return "touched no row";
            await work.ExecuteAsync("set constraints all immediate");
            return null;
        }
        catch (PostgresException refused)
        {
            return refused.SqlState;
        }
    }

    /// <summary>An order whose tack is in work and ends at a witness point, one that is not begun, and one that is not accepted.</summary>
    private async Task<string> FillAsync(Actor me, string sql)
    {
        PlannedStep[] route = [new("cut", null, null), new("fit and tack", null, null, "witness", NoticeHours: 24), new("weld", null, null)];
        var order = await scene.AcceptedAsync(scene.Line(route: route));
        await scene.DoAsync(scene.Ida, order, "cut");
        var tack = await scene.StepsAsync(order, "fit and tack");
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, tack));
        var fresh = await scene.AcceptedAsync(scene.Line(route: route));
        return sql
            .Replace("{order}", $"'{order}'", StringComparison.Ordinal)
            .Replace("{issued}", $"'{await scene.IssuedAsync(scene.Line(route: route))}'", StringComparison.Ordinal)
            .Replace("{tack}", $"'{tack[0]}'", StringComparison.Ordinal)
            .Replace("{cut of fresh}", $"'{(await scene.StepsAsync(fresh, "cut"))[0]}'", StringComparison.Ordinal)
            .Replace("{draft revision}", $"'{scene.CradleBUnreleased}'", StringComparison.Ordinal)
            .Replace("{other}", $"'{scene.Ned.PersonId}'", StringComparison.Ordinal)
            .Replace("{other organisation's}", $"'{scene.Tom.PersonId}'", StringComparison.Ordinal)
            .Replace("{me}", $"'{me.PersonId}'", StringComparison.Ordinal)
            .Replace("{us}", $"'{me.OrganisationId}'", StringComparison.Ordinal);
    }
}
