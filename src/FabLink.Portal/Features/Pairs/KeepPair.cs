using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pairs;

/// <summary>The engineer says which two dimensions of a build must agree with each other, and by how much.</summary>
public static class KeepPair
{
    /// <param name="Id">Null for a new one.</param>
    /// <param name="Left">Part and balloon as they are written in a chain: RH-120 2.</param>
    /// <param name="Within">Largest difference either way, in mm or degrees.</param>
    /// <param name="Rule">simple or guarded.</param>
    public sealed record Request(Guid BuildId, Guid? Id, int RowVersion, string? Name, string? Left, string? Right, string? Within, string? Rule);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Kept(Guid Id) : Outcome;

        public sealed record Wrong(IReadOnlyList<KeepChain.Problem> Problems) : Outcome;

        public sealed record Stale(Changed Change, int RowVersion) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    private sealed record Read(string Name, LinkSource.Characteristic Left, LinkSource.Characteristic Right, decimal Within, string Unit, string Rule);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Build = "select id from build where id = @BuildId for key share";
        private const string Current = "select row_version from pair where id = @Id and build_id = @BuildId and removed_at is null for update";
        private const string Taken = "select exists (select 1 from pair where build_id = @BuildId and name = @Name and removed_at is null and id is distinct from @Id::uuid)";

        private const string SelectChange = """
            select coalesce(p.name, 'the portal') as by, a.at from audit a left join person p on p.id = a.person_id
            where a.table_name = 'pair' and a.row_key = @key order by a.id desc limit 1
            """;

        private const string Insert = """
            insert into pair (id, owner_id, build_id, name, left_part_id, left_place, left_balloon, left_instance, right_part_id, right_place, right_balloon, right_instance,
                              within, unit, rule, created_at, created_by)
            values (@Pair, @OrganisationId, @BuildId, @Name, @LeftPart, @LeftPlace, @LeftBalloon, @LeftInstance, @RightPart, @RightPlace, @RightBalloon, @RightInstance,
                    @Within, @Unit, @Rule, @now, @PersonId)
            """;

        private const string Update = """
            update pair set name = @Name, left_part_id = @LeftPart, left_place = @LeftPlace, left_balloon = @LeftBalloon, left_instance = @LeftInstance,
                   right_part_id = @RightPart, right_place = @RightPlace, right_balloon = @RightBalloon, right_instance = @RightInstance,
                   within = @Within, unit = @Unit, rule = @Rule, row_version = row_version + 1
            where id = @Pair
            """;

        private const string Remove = """
            update pair set removed_at = @now, removed_by = @PersonId, row_version = row_version + 1 where id = @id and removed_at is null returning build_id
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteChains, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.ValueAsync<Guid?>(Build, request) is null)
                return new Outcome.NotFound();
            if (request.Id is not null)
            {
                if (await work.ValueAsync<int?>(Current, request) is not { } version)
                    return new Outcome.NotFound();
                if (version != request.RowVersion)
                    return new Outcome.Stale((await work.RowAsync<Changed>(SelectChange, new { key = request.Id.ToString() }))!, version);
            }

            var problems = new List<KeepChain.Problem>();
            var read = ReadForm(request, await BuildSources.OfAsync(work, request.BuildId), problems);
            if (read is not null && await work.ValueAsync<bool>(Taken, new { request.BuildId, read.Name, request.Id }))
                problems.Add(new KeepChain.Problem(nameof(request.Name), $"There is a pair {read.Name} in this build already; choose another name."));
            if (read is null || problems.Count > 0)
                return new Outcome.Wrong(problems);

            var now = clock.GetUtcNow();
            var pair = request.Id ?? Guid.CreateVersion7(now);
            await work.ExecuteAsync(request.Id is null ? Insert : Update, new
            {
                Pair = pair,
                actor.OrganisationId,
                request.BuildId,
                read.Name,
                LeftPart = read.Left.PartId,
                LeftPlace = read.Left.Place,
                LeftBalloon = read.Left.Balloon,
                LeftInstance = read.Left.Instance,
                RightPart = read.Right.PartId,
                RightPlace = read.Right.Place,
                RightBalloon = read.Right.Balloon,
                RightInstance = read.Right.Instance,
                read.Within,
                read.Unit,
                read.Rule,
                now,
                actor.PersonId,
            });
            await work.ExecuteAsync("select ask_recheck('re-check a build', @BuildId, @now)", new { request.BuildId, now });
            await work.CommitAsync();
            return new Outcome.Kept(pair);
        }

        /// <summary>Takes a pair out of the build; whoever was shown it is not shown it any more.</summary>
        /// <returns>The build, or null when there is no such pair.</returns>
        public async Task<Guid?> RemoveAsync(Actor actor, Guid id, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteChains, Relation.Own))
                return null;
            await using var work = await database.BeginAsync(actor, cancellation);
            var now = clock.GetUtcNow();
            if (await work.ValueAsync<Guid?>(Remove, new { id, now, actor.PersonId }) is not { } build)
                return null;
            await work.ExecuteAsync("select ask_recheck('re-check a build', @build, @now)", new { build, now });
            await work.CommitAsync();
            return build;
        }

        /// <returns>Null when something is wrong.</returns>
        private static Read? ReadForm(Request request, BuildSources sources, List<KeepChain.Problem> problems)
        {
            void Wrong(string field, string message) => problems.Add(new KeepChain.Problem(field, message));
            var name = request.Name?.Trim() ?? "";
            if (name.Length is 0 or > 80)
                Wrong(nameof(request.Name), "Name the pair in at most 80 characters, such as pad angles.");
            var left = Side(request.Left, nameof(request.Left));
            var right = Side(request.Right, nameof(request.Right));
            if (left is not null && left == right)
                Wrong(nameof(request.Right), "A dimension agrees with itself; choose another one.");
            var (one, other) = (sources.Find(left), sources.Find(right));
            if (one is not null && other is not null && one.Angle != other.Angle)
                Wrong(nameof(request.Right), "An angle is not compared with a length.");
            if (!NumberText.TryParse(request.Within ?? "", out var within, out var refusal))
                Wrong(nameof(request.Within), refusal!);
            else if (within <= 0)
                Wrong(nameof(request.Within), "The difference that is allowed is above zero.");
            if (request.Rule is not ("simple" or "guarded"))
                Wrong(nameof(request.Rule), "Choose how it is judged.");
            return problems.Count > 0 || one is null ? null : new Read(name, left!, right!, one.Angle ? within * 3600 : within, one.Angle ? "deg" : "mm", request.Rule!);

            LinkSource.Characteristic? Side(string? text, string field)
            {
                if (string.IsNullOrWhiteSpace(text))
                {
                    Wrong(field, "Say which part and balloon, such as RH-120 2.");
                    return null;
                }

                var source = sources.Read(text, out var why);
                if (source is LinkSource.Characteristic found)
                    return found;
                Wrong(field, why ?? "A pair is of two dimensions of pieces, such as RH-120 2.");
                return null;
            }
        }
    }
}
