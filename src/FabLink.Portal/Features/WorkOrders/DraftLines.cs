using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Writes the lines and routes of a draft, after asking whether all that they name is the build shop's own.</summary>
internal static class DraftLines
{
    private const string Released = "select id from revision where id = any (@Ids) and owner_id = @OrganisationId and released_at is not null";

    private const string Builds = "select id from build where id = any (@Ids) and owner_id = @OrganisationId";

    private const string Shops = "select organisation_id from supplier where owner_id = @OrganisationId";

    private const string Existing = "select id, ordinal, revision_id, quantity from work_order_line where work_order_id = @orderId";

    private const string Clear = """
        delete from route_step where work_order_id = @orderId;
        delete from work_order_line where work_order_id = @orderId and id <> all (@kept)
        """;

    private const string UpdateLine = """
        update work_order_line set build_id = @BuildId, need_date = @NeedDate, note = @Note where id = @Id
        """;

    private sealed record LineRow(Guid Id, int Ordinal, Guid RevisionId, int Quantity);

    private const string InsertLine = """
        insert into work_order_line (id, work_order_id, ordinal, revision_id, build_id, quantity, need_date, note)
        values (@Id, @OrderId, @Ordinal, @RevisionId, @BuildId, @Quantity, @NeedDate, @Note)
        """;

    private const string InsertStep = """
        insert into route_step (id, line_id, work_order_id, ordinal, kind, organisation_id, stage, gate, opens_by, notice_hours, planned_days)
        values (@Id, @LineId, @OrderId, @Ordinal, @Kind, @OrganisationId, @Stage, @Gate, @OpensBy, @NoticeHours, @PlannedDays)
        """;

    /// <summary>The first thing named that is not there for this build shop: the field and a sentence; null when all is there.</summary>
    public static async Task<(string Field, string Sentence)?> StrangerAsync(Work work, Guid shopId, IReadOnlyList<PlannedLine> lines)
    {
        var own = work.Actor.OrganisationId;
        async Task<HashSet<Guid>> Ask(string sql, IEnumerable<Guid> ids) =>
            [.. await work.RowsAsync<Guid>(sql, new { Ids = ids.ToArray(), OrganisationId = own })];
        var shops = await Ask(Shops, []);
        if (!shops.Contains(shopId))
            return ("ShopId", "This shop is not one of yours; choose another.");
        var revisions = await Ask(Released, lines.Select(line => line.RevisionId));
        var builds = await Ask(Builds, lines.Select(line => line.BuildId));
        foreach (var (index, line) in lines.Index())
        {
            if (!revisions.Contains(line.RevisionId))
                return ($"Lines[{index}].RevisionId", "Only a released revision can be ordered; choose another.");
            if (!builds.Contains(line.BuildId))
                return ($"Lines[{index}].BuildId", "This build is not there; choose another.");
            foreach (var (number, step) in (line.Route ?? []).Index())
            {
                if (step.OrganisationId is { } doer && doer != own && !shops.Contains(doer))
                    return ($"Lines[{index}].Route[{number}].OrganisationId", "This shop is not one of yours; choose another.");
            }
        }

        return null;
    }

    /// <summary>A line that still orders as many of the same revision stays the line it was, with the sampling that was chosen for it.</summary>
    public static async Task WriteAsync(Work work, DateTimeOffset now, Guid orderId, Guid shopId, IReadOnlyList<PlannedLine> lines)
    {
        var kept = (await work.RowsAsync<LineRow>(Existing, new { orderId }))
            .Where(row => row.Ordinal <= lines.Count && (lines[row.Ordinal - 1].RevisionId, lines[row.Ordinal - 1].Quantity) == (row.RevisionId, row.Quantity))
            .ToDictionary(row => row.Ordinal, row => row.Id);
        await work.ExecuteAsync(Clear, new { orderId, kept = kept.Values.ToArray() });
        foreach (var (index, line) in lines.Index())
        {
            var stays = kept.TryGetValue(index + 1, out var lineId);
            if (!stays)
                lineId = Guid.CreateVersion7(now);
            await work.ExecuteAsync(stays ? UpdateLine : InsertLine, new
            {
                Id = lineId,
                OrderId = orderId,
                Ordinal = index + 1,
                line.RevisionId,
                line.BuildId,
                line.Quantity,
                line.NeedDate,
                Note = line.Note?.Trim() ?? "",
            });
            foreach (var (number, planned) in (line.Route ?? []).Index())
            {
                var step = planned.Tidy();
                await work.ExecuteAsync(InsertStep, new
                {
                    Id = Guid.CreateVersion7(now),
                    LineId = lineId,
                    OrderId = orderId,
                    Ordinal = number + 1,
                    step.Kind,
                    OrganisationId = step.OrganisationId ?? shopId,
                    step.Stage,
                    step.Gate,
                    step.OpensBy,
                    step.NoticeHours,
                    step.PlannedDays,
                });
            }
        }
    }
}
