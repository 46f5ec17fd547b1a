using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Shifts;

/// <summary>How dimensions move after tack, per shop and kind: all shops for the build shop, its own for a shop.</summary>
public static class ListShifts
{
    public sealed record Row(Shift Shift, string Owner, string Shop);

    private sealed record NameRow(Guid Id, string Name);

    public sealed class Handler(Database database)
    {
        private const string Names = "select id, name from organisation where id = any(@ids)";

        public async Task<IReadOnlyList<Row>> HandleAsync(Actor actor, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            var shifts = await ShiftPairs.LearnAsync(
                work.Connection, null, actor.IsBuildShop ? actor.OrganisationId : null, actor.IsBuildShop ? null : actor.OrganisationId, cancellation);
            var ids = shifts.SelectMany(shift => new[] { shift.OwnerId, shift.ShopId }).Distinct().ToArray();
            var names = (await work.RowsAsync<NameRow>(Names, new { ids })).ToDictionary(row => row.Id, row => row.Name);
            return [.. shifts.Select(shift => new Row(shift, names.GetValueOrDefault(shift.OwnerId, ""), names.GetValueOrDefault(shift.ShopId, "")))];
        }
    }
}
