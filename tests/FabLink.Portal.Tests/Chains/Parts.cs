using Dapper;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Features.WorkOrders;
using FabLink.Portal.Tests.WorkOrders;

namespace FabLink.Portal.Tests.Chains;

/// <summary>Parts with a length (balloon 1, 1180 ±0.5) and an angle (balloon 2, 30° ±0.4°), ordered for the build of the scene and measured past the handlers.</summary>
internal sealed class Parts(Scene scene)
{
    internal sealed record Made(Guid Part, string Number, Guid Length, Guid Angle, Guid Order, IReadOnlyList<Guid> Pieces);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public async Task<Made> OrderedAsync(string name, Guid? shop = null, int pieces = 1, string unit = "mm")
    {
        var (part, revision, length, angle) = (Guid.CreateVersion7(), Guid.CreateVersion7(), Guid.CreateVersion7(), Guid.CreateVersion7());
        var number = $"{name}-{revision.ToString("n")[^6..]}";
        const string Sql = """
            insert into part (id, owner_id, number, name, created_at, created_by) values (@part, @Saltmarsh, @number, @name, now(), @By);
            insert into drawing (id, owner_id, part_id, number, title, created_at, created_by) values (@drawing, @Saltmarsh, @part, @number, @name, now(), @By);
            insert into revision (id, owner_id, drawing_id, part_id, letter, welded, created_at, created_by) values (@revision, @Saltmarsh, @drawing, @part, 'A', true, now(), @By);
            insert into characteristic (id, owner_id, revision_id, balloon, kind, requirement, unit, nominal, lower_limit, upper_limit, limits_from, class, stages, applies, count, rule)
            values (@length, @Saltmarsh, @revision, 1, 'length', '1180 ±0.5', @unit, 1180, 1179.5, 1180.5, 'stated', 'minor', '{tack,as welded}', 'before coating', 1, 'simple'),
                   (@angle, @Saltmarsh, @revision, 2, 'angle', '30° ±0.4°', 'deg', 108000, 106560, 109440, 'stated', 'minor', '{tack,as welded}', 'before coating', 1, 'simple'),
                   (gen_random_uuid(), @Saltmarsh, @revision, 3, 'length', 'max 40', 'mm', null, null, 40, 'stated', 'minor', '{as welded}', 'before coating', 1, 'simple');
            update revision set released_at = now(), released_by = @By where id = @revision
            """;
        await using (var owner = await scene.OwnerAsync())
            await owner.ExecuteAsync(Sql, new { part, revision, length, angle, unit, number, name, scene.Saltmarsh, By = scene.Mara.PersonId, drawing = Guid.CreateVersion7() });
        var created = Assert.IsType<CreateWorkOrder.Outcome.Created>(await new CreateWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(
            scene.Ned, new CreateWorkOrder.Request(shop ?? scene.HolmLane, "PO", null, [scene.Line(revision, pieces)]), Cancellation));
        Assert.IsType<IssueWorkOrder.Outcome.Issued>(await new IssueWorkOrder.Handler(scene.Database, scene.Clock).HandleAsync(scene.Ned, new(created.Id, 1), Cancellation));
        return new Made(part, number, length, angle, created.Id, await scene.PiecesAsync(created.Id));
    }

    /// <summary>A report with one value in mm or arc-seconds, a minute after the last one.</summary>
    public async Task<Guid> MeasuredAsync(Made made, Guid characteristic, decimal value, decimal? uncertainty = null, int piece = 0)
    {
        scene.Clock.Advance(TimeSpan.FromMinutes(1));
        var report = await scene.ReportAsync(made.Pieces[piece], "tack", "conforms");
        const string Sql = """
            insert into measured_value (report_id, work_order_id, characteristic_id, instance, value, unit, typed, expanded_uncertainty, verdict)
            values (@report, @Order, @characteristic, 1, @value, 'mm', @value::text, @uncertainty, 'conforms')
            """;
        await using var owner = await scene.OwnerAsync();
        await owner.ExecuteAsync(Sql, new { report, made.Order, characteristic, value, uncertainty });
        return report;
    }

    /// <summary>What the job does when a report came; as the jobs role.</summary>
    public async Task RecheckAsync(Guid? report = null, Guid? build = null)
    {
        await using var connection = await scene.Sources.Jobs.OpenConnectionAsync(Cancellation);
        await using var transaction = await connection.BeginTransactionAsync(Cancellation);
        await ChainChecks.RecheckAsync(connection, transaction, report, build, scene.Clock.GetUtcNow(), Cancellation);
        await PairChecks.RecheckAsync(connection, transaction, report, build, scene.Clock.GetUtcNow(), Cancellation);
        await transaction.CommitAsync(Cancellation);
    }
}
