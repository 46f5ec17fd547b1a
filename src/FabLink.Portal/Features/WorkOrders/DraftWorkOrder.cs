using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FabLink.Portal.Platform.Web;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>Opens the form of a work order: what can be chosen, and the draft as it was saved.</summary>
public static class DraftWorkOrder
{
    public sealed class Handler(Database database)
    {
        private const string Shops = """
            select o.id, o.name, o.kind from supplier s join organisation o on o.id = s.organisation_id where s.owner_id = @OrganisationId order by o.name
            """;

        private const string Revisions = """
            select distinct on (p.number, r.letter) r.id, p.number || ' ' || r.letter || ' ' || p.name as label
            from revision r join part p on p.id = r.part_id where r.owner_id = @OrganisationId and r.released_at is not null order by p.number, r.letter desc
            """;

        private const string Builds = "select id, number || ' ' || name as label from build where owner_id = @OrganisationId order by created_at desc";

        private const string Lines = """
            select id, revision_id, build_id, quantity, need_date, note from work_order_line where work_order_id = @id order by ordinal
            """;

        private const string Steps = """
            select line_id, kind, organisation_id, stage, gate, opens_by, notice_hours, planned_days from route_step where work_order_id = @id order by ordinal
            """;

        private sealed record Organisation(Guid Id, string Name, string Kind);

        private sealed record Labelled(Guid Id, string Label);

        private sealed record Line(Guid Id, Guid RevisionId, Guid BuildId, int Quantity, DateOnly NeedDate, string Note);

        private sealed record Step(Guid LineId, string Kind, Guid OrganisationId, string? Stage, string Gate, string? OpensBy, int? NoticeHours, int PlannedDays);

        public async Task<OrderChoices> ChoicesAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var shops = await work.RowsAsync<Organisation>(Shops, new { actor.OrganisationId });
            var revisions = await work.RowsAsync<Labelled>(Revisions, new { actor.OrganisationId });
            var builds = await work.RowsAsync<Labelled>(Builds, new { actor.OrganisationId });
            return new OrderChoices(
                [Unchosen("Choose a shop"), .. shops.Where(shop => shop.Kind == "fabricator").Select(Choose)],
                [new Choice("", "the shop"), new Choice(actor.OrganisationId.ToString(), actor.OrganisationName), .. shops.Select(Choose)],
                [Unchosen("Choose a released revision"), .. revisions.Select(row => new Choice(row.Id.ToString(), row.Label))],
                builds.Count == 1 ? [.. builds.Select(row => new Choice(row.Id.ToString(), row.Label))] : [Unchosen("Choose a build"), .. builds.Select(row => new Choice(row.Id.ToString(), row.Label))],
                actor.OrganisationId,
                shops.FirstOrDefault(shop => shop.Kind == "coater")?.Id);
        }

        /// <summary>The draft as it was saved; null when it is not there, or no draft any more.</summary>
        public async Task<OrderForm?> OpenAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LoadAsync(work, id) is not { IsDraft: true, ClosedAt: null } order || !actor.May(Deed.WriteWorkOrder, order.RelationOf(actor)))
                return null;
            var lines = await work.RowsAsync<Line>(Lines, new { id });
            var steps = (await work.RowsAsync<Step>(Steps, new { id })).ToLookup(step => step.LineId);
            return new OrderForm(
                id,
                order.RowVersion,
                order.ShopId,
                order.PurchaseOrderNumber,
                order.Note,
                [.. lines.Select(line => new PlannedLine(line.RevisionId, line.BuildId, line.Quantity, line.NeedDate, line.Note, [.. steps[line.Id].Select(step => Planned(step, order.ShopId))]))]);
        }

        private static PlannedStep Planned(Step step, Guid shopId) =>
            new(step.Kind, step.OrganisationId == shopId ? null : step.OrganisationId, step.Stage, step.Gate, step.OpensBy, step.NoticeHours, step.PlannedDays);

        private static Choice Choose(Organisation shop) => new(shop.Id.ToString(), shop.Name);

        private static Choice Unchosen(string words) => new(Guid.Empty.ToString(), words);
    }
}
