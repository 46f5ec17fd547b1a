using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pairs;

/// <summary>The form of a pair: what is typed, and what may stand in it.</summary>
/// <param name="Stale">Who changed the pair while this person was typing.</param>
public sealed record PairForm(ShowChains.BuildRow Build, KeepPair.Request Request, BuildSources Sources, Changed? Stale = null)
{
    public sealed class Handler(Database database)
    {
        private const string SelectBuild = "select id, number, name from build where id = @build";

        private const string One = """
            select build_id, row_version, name, left_part_id, left_place, left_balloon, left_instance, right_part_id, right_place, right_balloon, right_instance, within, unit, rule
            from pair where id = @id and removed_at is null
            """;

        private sealed record Row(
            Guid BuildId, int RowVersion, string Name, Guid LeftPartId, int LeftPlace, int LeftBalloon, int LeftInstance, Guid RightPartId, int RightPlace, int RightBalloon,
            int RightInstance, decimal Within, string Unit, string Rule);

        /// <returns>Null when there is no such build for this person.</returns>
        public async Task<PairForm?> OfAsync(Actor actor, KeepPair.Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<ShowChains.BuildRow>(SelectBuild, new { build = request.BuildId }) is { } build
                ? new PairForm(build, request, await BuildSources.OfAsync(work, request.BuildId))
                : null;
        }

        /// <returns>The pair as it would be typed; null when there is none for this person.</returns>
        public async Task<PairForm?> EditAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Row>(One, new { id }) is not { } row)
                return null;
            var sources = await BuildSources.OfAsync(work, row.BuildId);
            return new PairForm(
                (await work.RowAsync<ShowChains.BuildRow>(SelectBuild, new { build = row.BuildId }))!,
                new KeepPair.Request(
                    row.BuildId,
                    id,
                    row.RowVersion,
                    row.Name,
                    sources.Text(new LinkSource.Characteristic(row.LeftPartId, row.LeftPlace, row.LeftBalloon, row.LeftInstance)),
                    sources.Text(new LinkSource.Characteristic(row.RightPartId, row.RightPlace, row.RightBalloon, row.RightInstance)),
                    row.Unit == "deg" ? AngleText.FormatDegrees(row.Within).TrimEnd('°') : row.Within.ToString("0.############"),
                    row.Rule),
                sources);
        }
    }
}
