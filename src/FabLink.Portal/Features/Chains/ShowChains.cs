using FabLink.Engineering.Chains;
using FabLink.Portal.Features.Bench;
using FabLink.Portal.Features.Pairs;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Chains;

/// <summary>The chains and the matched pairs of a build, computed from what is known now.</summary>
public static class ShowChains
{
    public sealed record BuildRow(Guid Id, string Number, string Name);

    public sealed record Page(Actor Actor, BuildRow Build, IReadOnlyList<ChainStanding> Chains, IReadOnlyList<PairStanding> Pairs)
    {
        public bool MayWrite => Actor.May(Deed.WriteChains, Relation.Own);
    }

    public sealed record CheckRow(DateTimeOffset CheckedAt, string Form, string Verdict, decimal? Yield, Guid? ReportId, string? Serial, string? Stage);

    public sealed record Sheet(Actor Actor, BuildRow Build, ChainStanding Standing, IReadOnlyList<CheckRow> Checks)
    {
        public bool MayWrite => Actor.May(Deed.WriteChains, Relation.Own);

        /// <summary>As drawn, as built so far, and as built once all is measured; side by side.</summary>
        public IReadOnlyList<ChainAnswer> Forms => Standing.Drawn is null ? [] : ReferenceEquals(Standing.Drawn, Standing.Now) ? [Standing.Drawn] : [Standing.Drawn, Standing.Now!];

        /// <summary>The chain as it stands, answered and drawn.</summary>
        public ChainResult Result => ChainResult.Of(ChainStanding.Question(Standing.Chain, Standing.Links, now: true), Standing.Now!, "mm");
    }

    public sealed class Handler(Database database)
    {
        private const string Build = "select id, number, name from build where id = @id";
        private const string OfBuild = $"select {ChainRow.Columns} from chain where build_id = @id and removed_at is null order by name";
        private const string One = $"select {ChainRow.Columns} from chain where id = @id and removed_at is null";

        private const string Checks = """
            select c.checked_at, c.form, c.verdict, c.yield, c.report_id, p.serial, r.stage
            from chain_check c left join report r on r.id = c.report_id left join piece p on p.id = r.piece_id
            where c.chain_id = @id order by c.ordinal desc limit 50
            """;

        /// <returns>Null when there is no such build for this person.</returns>
        public async Task<Page?> OfBuildAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<BuildRow>(Build, new { id }) is not { } build)
                return null;
            var chains = await work.RowsAsync<ChainRow>(OfBuild, new { id });
            var links = await new ChainReading(work.Connection, null, cancellation).OfAsync([.. chains.Select(chain => chain.Id)]);
            return new Page(
                actor,
                build,
                [.. chains.Select(chain => ChainStanding.Of(chain, [.. links[chain.Id]], cancellation))],
                await new PairReading(work.Connection, null, cancellation).OfBuildAsync(id));
        }

        /// <returns>Null when there is no such chain for this person.</returns>
        public async Task<Sheet?> OneAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<ChainRow>(One, new { id }) is not { } chain)
                return null;
            var links = await new ChainReading(work.Connection, null, cancellation).OfAsync([id]);
            return new Sheet(
                actor,
                (await work.RowAsync<BuildRow>(Build, new { id = chain.BuildId }))!,
                ChainStanding.Of(chain, [.. links[id]], cancellation),
                await work.RowsAsync<CheckRow>(Checks, new { id }));
        }
    }
}
