using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Chains;

/// <summary>The form of a chain: what is typed, and what may stand in it.</summary>
/// <param name="Stale">Who changed the chain while this person was typing.</param>
public sealed record ChainForm(ShowChains.BuildRow Build, KeepChain.Request Request, BuildSources Sources, Changed? Stale = null)
{
    public const int SpareRows = 4;

    public sealed class Handler(Database database)
    {
        private const string SelectBuild = "select id, number, name from build where id = @build";
        private const string One = $"select {ChainRow.Columns} from chain where id = @id and removed_at is null";

        private const string Links = """
            select name, sensitivity, distribution, source, part_id, place, balloon, instance, survey_id, point, other_point, axis, nominal_mm, lower_mm, upper_mm
            from chain_link where chain_id = @id order by ordinal
            """;

        private sealed record LinkRow(
            string Name, decimal Sensitivity, string Distribution, string Source, Guid? PartId, int? Place, int? Balloon, int? Instance,
            Guid? SurveyId, string? Point, string? OtherPoint, string? Axis, decimal? NominalMm, decimal? LowerMm, decimal? UpperMm)
        {
            public LinkSource ToSource()
            {
                var size = NominalMm is { } nominal ? new Toleranced(nominal, LowerMm!.Value, UpperMm!.Value) : null;
                return Source switch
                {
                    "characteristic" => new LinkSource.Characteristic(PartId!.Value, Place!.Value, Balloon!.Value, Instance!.Value),
                    "survey" => new LinkSource.Survey(SurveyId!.Value, Point!, OtherPoint, Axis!, size),
                    _ => new LinkSource.Number(size!),
                };
            }
        }

        /// <returns>An empty form, or null when there is no such build for this person.</returns>
        public async Task<ChainForm?> NewAsync(Actor actor, Guid build, CancellationToken cancellation) =>
            await OfAsync(actor, new KeepChain.Request(build, null, 0, "", "", "", "", "99", "1", [.. Enumerable.Repeat(new KeepChain.Link(), 6)]), cancellation);

        /// <returns>The chain as it stands, as it would be typed.</returns>
        public async Task<ChainForm?> EditAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<ChainRow>(One, new { id }) is not { } chain)
                return null;
            var sources = await BuildSources.OfAsync(work, chain.BuildId);
            var links = await work.RowsAsync<LinkRow>(Links, new { id });
            return new ChainForm(
                (await work.RowAsync<ShowChains.BuildRow>(SelectBuild, new { build = chain.BuildId }))!,
                new KeepChain.Request(
                    chain.BuildId, id, chain.RowVersion, chain.Name, chain.Closing, Plain(chain.RequiredLowerMm), Plain(chain.RequiredUpperMm), Plain(100 * chain.RequiredYield), $"{chain.Seed}",
                    [.. links.Select(link => new KeepChain.Link(link.Name, Plain(link.Sensitivity), sources.Text(link.ToSource()), link.Distribution)), .. Enumerable.Repeat(new KeepChain.Link(), 2)]),
                sources);
        }

        /// <summary>What was typed, once more.</summary>
        public async Task<ChainForm?> OfAsync(Actor actor, KeepChain.Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<ShowChains.BuildRow>(SelectBuild, new { build = request.BuildId }) is { } build
                ? new ChainForm(build, request, await BuildSources.OfAsync(work, request.BuildId))
                : null;
        }

        private static string Plain(decimal? value) => value?.ToString("0.############") ?? "";
    }
}
