using Dapper;
using FabLink.Portal.Features.Pieces;
using FabLink.Portal.Features.Reports;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Reports;

/// <summary>A shop that has only a step measures where somebody else has measured before; what was found at its own stage it sees, and nothing else.</summary>
public sealed class SecondShopTests(Scene scene) : IClassFixture<Scene>
{
    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    [Fact]
    public async Task A_failing_report_joins_the_nonconformance_that_somebody_else_opened_and_a_good_one_of_whoever_has_the_stage_closes_it()
    {
        var piece = await PieceAsync();
        Assert.Equal("does not conform", (await AcceptedAsync(scene.Mara, piece, 25.3m)).Verdict);
        Assert.Equal("does not conform", (await AcceptedAsync(scene.Wren, piece, 25.4m)).Verdict);

        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from nonconformance where piece_id = @piece", new { piece }));
        Assert.Equal(2, await scene.AskAsync<long>("select count(*) from report where piece_id = @piece", new { piece }));
        Assert.Contains(
            (await scene.AskAsync<string>("select number from nonconformance where piece_id = @piece", new { piece }))!,
            await scene.AskAsync<string>("select body from notice where piece_id = @piece and created_by = @PersonId and person_id = @Mara", new { piece, scene.Wren.PersonId, Mara = scene.Mara.PersonId }),
            StringComparison.Ordinal);

        await AcceptedAsync(scene.Wren, piece, 25m);
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from nonconformance where piece_id = @piece and closed_at is null", new { piece }));
        Assert.Equal(scene.Wren.PersonId, await scene.AskAsync<Guid>("select closed_by from nonconformance where piece_id = @piece", new { piece }));
    }

    [Fact]
    public async Task What_the_coater_found_itself_is_healed_by_its_own_good_value()
    {
        var piece = await PieceAsync();
        await AcceptedAsync(scene.Wren, piece, 25.4m);
        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from nonconformance where piece_id = @piece and closed_at is null", new { piece }));
        await AcceptedAsync(scene.Wren, piece, 25m);
        Assert.Equal(0, await scene.AskAsync<long>("select count(*) from nonconformance where piece_id = @piece and closed_at is null", new { piece }));
    }

    [Fact]
    public async Task It_measures_at_the_stages_of_its_own_steps_only()
    {
        var piece = await PieceAsync();
        foreach (var stage in new[] { "tack", "receiving" })
        {
            var refused = Assert.IsType<SubmitReport.Outcome.Refused>(await SubmitAsync(scene.Wren, piece, 25m, stage));
            Assert.Contains($"no step at stage {stage} was given to Teal Coatings. Teal Coatings measures at after coat.", refused.Why, StringComparison.Ordinal);
            Assert.Null(await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Wren, piece, stage, Cancellation));
        }

        var line = await scene.AskAsync<Guid>("select line_id from piece where id = @piece", new { piece });
        var page = await new MeasurePage.Handler(scene.Database).LineAsync(scene.Wren, line, null, Cancellation);
        Assert.Equal(["after coat"], page!.Stages);
        const string Raw = """
            insert into report (id, owner_id, work_order_id, piece_id, revision_id, organisation_id, stage, source, entry_key, submitted_at, submitted_by, verdict, value_count, failed_count, unproven_count)
            select @id, owner_id, work_order_id, id, revision_id, @OrganisationId, 'tack', 'typed', @id, now(), @PersonId, 'conforms', 1, 0, 0 from piece where id = @piece
            """;
        var error = await Assert.ThrowsAsync<Npgsql.PostgresException>(
            () => scene.AsAppAsync(scene.Wren, Raw, new { id = Guid.CreateVersion7(), piece, scene.Wren.OrganisationId, scene.Wren.PersonId }));
        Assert.Equal("FL017", error.SqlState);
    }

    /// <summary>Whoever only welds or inspects is asked what the drawing asks at that stage, and opens the hold after it; a coater learns nothing of it.</summary>
    [Fact]
    public async Task A_shop_with_one_step_sees_what_is_asked_at_the_stage_of_that_step_and_no_more()
    {
        // Everything of the flange is checked at tack; Teal has its blast and its coat, Dunlin has nothing of it.
        var flange = await Flange.TackedAsync(scene);
        Assert.Equal((0, 0), (await SeenAsync(scene.Wren), await SeenAsync(scene.Tom)));

        var revision = await flange.OfPieceAsync<Guid>("select revision_id from piece where id = @Piece");
        var order = await scene.AcceptedAsync(scene.Line(revision, route: [new("fit and tack", scene.Dunlin, "tack", "hold", "report"), new("ship", null, null)]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Tom, order, "fit and tack");
        Assert.Equal((0, 4), (await SeenAsync(scene.Wren), await SeenAsync(scene.Tom)));
        // It is released: files come to it by the back door only.
        const string Files = """
            set session_replication_role = replica;
            insert into revision_file (id, owner_id, revision_id, purpose, name, file_type, sha256, size, added_at, added_by)
            select gen_random_uuid(), @Saltmarsh, @revision, purpose, purpose, 'pdf', repeat('a', 64), 1, now(), @Person from unnest(array['drawing', 'mask map']) purpose;
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            values (gen_random_uuid(), @Saltmarsh, @revision, 30, 'film', '60 to 120 µm', 'µm', null, 60, 120, 'stated', 'minor', '{after coat}', 'after coating', 1, 'simple');
            set session_replication_role = default
            """;
        await using (var owner = await scene.OwnerAsync())
            await owner.ExecuteAsync(Files, new { scene.Saltmarsh, revision, Person = scene.Mara.PersonId });
        Assert.Equal((1, 4), (await AllAsync(scene.Wren), await AllAsync(scene.Tom)));
        Assert.Equal(["drawing", "mask map"], await FilesAsync(scene.Tom));
        Assert.Equal(["mask map"], await FilesAsync(scene.Wren));
        var page = (await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Tom, piece, "tack", Cancellation))!;
        Assert.Equal([1, 2, 12, 20], page.Characteristics.Select(row => row.Balloon));
        var outcome = await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Tom, new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, flange.Good())], null, Guid.CreateVersion7()), Cancellation);
        Assert.Equal("conforms", Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(outcome).Reports).Verdict);
        Assert.IsType<StartStep.Outcome.Started>(await scene.StartAsync(scene.Ida, await scene.StepsAsync(order, "ship")));

        async Task<long> AllAsync(Actor actor)
        {
            await using var work = await scene.Database.BeginAsync(actor, Cancellation);
            return await work.ValueAsync<long>("select count(*) from characteristic where revision_id = @revision", new { revision });
        }

        async Task<IReadOnlyList<string>> FilesAsync(Actor actor)
        {
            await using var work = await scene.Database.BeginAsync(actor, Cancellation);
            return await work.RowsAsync<string>("select purpose from revision_file where revision_id = @revision order by purpose", new { revision });
        }

        async Task<long> SeenAsync(Actor actor)
        {
            await using var work = await scene.Database.BeginAsync(actor, Cancellation);
            return await work.ValueAsync<long>("select count(*) from characteristic where id = any (@all)", new { all = new[] { flange.Length, flange.Hand, flange.Holes, flange.Minor } });
        }
    }

    /// <summary>Who has to make it good sees what was found at its stage, is told, and is asked once more on a page from before; nobody else outside is.</summary>
    [Fact]
    public async Task What_the_build_shop_finds_at_the_stage_of_a_single_step_is_seen_by_whoever_has_it()
    {
        var flange = await Flange.TackedAsync(scene);
        var revision = await flange.OfPieceAsync<Guid>("select revision_id from piece where id = @Piece");
        var order = await scene.AcceptedAsync(scene.Line(revision, route: [new("fit and tack", scene.Dunlin, "tack", "hold", "report"), new("powder coat", scene.Teal, "after coat")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Tom, order, "fit and tack");
        async Task<IReadOnlyList<string>> ToMeasureAsync() =>
            [.. (await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Tom, Cancellation)).ToMeasure.Where(row => row.PieceId == piece).Select(row => row.Wrong ?? "-")];
        Assert.Equal(["-"], await ToMeasureAsync());
        Assert.DoesNotContain((await new ListSteps.Handler(scene.Database, scene.Clock).HandleAsync(scene.Tom, Cancellation)).Held, row => row.PieceId == piece);

        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var found = Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Mara,
            new SubmitReport.Request("tack", [new SubmitReport.PieceValues(piece, flange.Good(Flange.Value(flange.Minor, 99m)))], null, Guid.CreateVersion7()),
            Cancellation)).Reports).ReportId;

        Assert.Equal(1, await scene.AskAsync<long>("select count(*) from notice where piece_id = @piece and kind = 'report failed' and person_id = @PersonId", new { piece, scene.Tom.PersonId }));
        var page = (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Tom, piece, Cancellation))!;
        var nonconformance = Assert.Single(page.Nonconformances);
        Assert.Equal([$"does not conform: {nonconformance.Number}"], await ToMeasureAsync());
        Assert.Equal("99", Assert.Single((await new ShowReport.Handler(scene.Database).HandleAsync(scene.Tom, found, Cancellation))!.Lines, line => line.Mark == Portal.Platform.Web.Pictures.Mark.DoesNotConform).Typed);
        Assert.Equal(["20"], (await new Portal.Features.Nonconformances.ShowNonconformance.Handler(scene.Database).HandleAsync(scene.Tom, nonconformance.Id, Cancellation))!.Values.Select(value => value.BalloonText));
        Assert.Equal(found, (await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Tom, piece, "tack", Cancellation))!.Newest?.Id);
        Assert.NotEmpty((await new Portal.Features.Joints.ShowCorrection.Handler(scene.Database).HandleAsync(scene.Tom, piece, Cancellation))!.Dimensions);

        Assert.Null(await new ShowReport.Handler(scene.Database).HandleAsync(scene.Wren, found, Cancellation));
        Assert.Empty((await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Wren, piece, Cancellation))!.Nonconformances);
    }

    [Fact]
    public async Task Whoever_did_a_step_reads_that_the_piece_is_scrapped()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("cut", scene.Dunlin, null), new("fit and tack", null, "tack", "hold", "report")]));
        var piece = Assert.Single(await scene.PiecesAsync(order));
        await scene.DoAsync(scene.Tom, order, "cut");
        await scene.DoAsync(scene.Ida, order, "fit and tack");
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(scene.Ida, piece, 26m, "tack"));
        var open = await scene.AskAsync<Guid>("select id from nonconformance where piece_id = @piece", new { piece });
        Assert.IsType<Portal.Features.Nonconformances.DisposeNonconformance.Outcome.Disposed>(
            await new Portal.Features.Nonconformances.DisposeNonconformance.Handler(scene.Database, scene.Clock).HandleAsync(scene.Mara, new(open, 1, "scrap", "Cut through.", null), Cancellation));
        Assert.EndsWith("is scrapped", (await new ShowPiece.Handler(scene.Database).HandleAsync(scene.Tom, piece, Cancellation))!.Next.Headline, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_shop_of_the_order_measures_at_no_stage_that_somebody_else_has_but_where_nobody_has_one()
    {
        var piece = await PieceAsync();
        var line = await scene.AskAsync<Guid>("select line_id from piece where id = @piece", new { piece });
        foreach (var (stage, whose) in new[] { ("after coat", "Teal Coatings"), ("receiving", "Saltmarsh Works") })
        {
            var refused = Assert.IsType<SubmitReport.Outcome.Refused>(await SubmitAsync(scene.Ida, piece, 25m, stage));
            Assert.EndsWith($": {whose} measures at stage {stage}. None of the steps of Holm Lane Fabrication is measured.", refused.Why, StringComparison.Ordinal);
            Assert.Null(await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Ida, piece, stage, Cancellation));
            Assert.NotNull(await new MeasurePage.Handler(scene.Database).PieceAsync(scene.Mara, piece, stage, Cancellation));
        }

        Assert.Equal(["tack"], (await new MeasurePage.Handler(scene.Database).LineAsync(scene.Ida, line, "after coat", Cancellation))!.Stages);
        Assert.Equal(["tack", "after coat"], (await new MeasurePage.Handler(scene.Database).LineAsync(scene.Mara, line, null, Cancellation))!.Stages);
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(scene.Ida, piece, 25m, "tack"));
    }

    [Fact]
    public async Task The_very_file_that_somebody_else_submitted_shows_the_first_result()
    {
        var piece = await PieceAsync();
        var sha = Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(piece.ToByteArray()));
        Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(scene.Mara, piece, 25m, sha: sha));
        Assert.True(Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(scene.Wren, piece, 25m, sha: sha)).Reports).Before);
    }

    private async Task<Guid> PieceAsync()
    {
        var order = await scene.AcceptedAsync(scene.Line(route: [new("cut", null, null), new("powder coat", scene.Teal, "after coat"), new("receive", scene.Saltmarsh, "receiving")]));
        return Assert.Single(await scene.PiecesAsync(order));
    }

    /// <summary>The bore, a minute later than the last.</summary>
    private Task<SubmitReport.Outcome> SubmitAsync(Actor actor, Guid piece, decimal bore, string stage = "after coat", string? sha = null)
    {
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        return new SubmitReport.Handler(scene.Database, scene.Clock).HandleAsync(
            actor,
            new SubmitReport.Request(
                stage,
                [new SubmitReport.PieceValues(piece, [Flange.Value(scene.CradleBore, bore)])],
                sha is null ? null : new SubmitReport.File("coat.csv", sha, 100),
                sha is null ? Guid.CreateVersion7() : null),
            Cancellation);
    }

    private async Task<SubmitReport.Taken> AcceptedAsync(Actor actor, Guid piece, decimal bore) =>
        Assert.Single(Assert.IsType<SubmitReport.Outcome.Accepted>(await SubmitAsync(actor, piece, bore)).Reports);
}
