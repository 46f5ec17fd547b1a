using System.Buffers;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Builds;
using FabLink.Portal.Features.Chains;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pairs;

/// <summary>The engineer says which two dimensions of a build must agree with each other, and by how much.</summary>
public static class KeepPair
{
    /// <param name="Id">Null for a new one.</param>
    /// <param name="Left">Part and balloon as they are written in a chain: RH-120 2.</param>
    /// <param name="Within">Largest difference either way, in mm or degrees; an angle also as 0°20'.</param>
    /// <param name="Rule">simple or guarded.</param>
    public sealed record Request(Guid BuildId, Guid? Id, int RowVersion, string? Name, string? Left, string? Right, string? Within, string? Rule);

    private sealed record Read(string Name, LinkSource.Characteristic Left, LinkSource.Characteristic Right, decimal Within, string Unit, string Rule);

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private static readonly BuildEntries Entries = new("pair");
        private static readonly SearchValues<char> Signs = SearchValues.Create("°º'\"′″’”");

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

        public async Task<KeepOutcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.WriteChains, Relation.Own))
                return new KeepOutcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await Entries.RefusalAsync(work, request.BuildId, request.Id, request.RowVersion) is { } refusal)
                return refusal;

            var problems = new List<FieldProblem>();
            var read = ReadForm(request, await BuildSources.OfAsync(work, request.BuildId), problems);
            if (read is not null && await Entries.NameTakenAsync(work, request.BuildId, request.Id, read.Name) is { } taken)
                problems.Add(taken);
            if (read is null || problems.Count > 0)
                return new KeepOutcome.Wrong(problems);

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
            await BuildEntries.LookAgainAsync(work, request.BuildId, now);
            await work.CommitAsync();
            return new KeepOutcome.Kept(pair);
        }

        /// <inheritdoc cref="BuildEntries.RemoveAsync"/>
        public Task<Guid?> RemoveAsync(Actor actor, Guid id, CancellationToken cancellation) => Entries.RemoveAsync(database, actor, id, clock.GetUtcNow(), cancellation);

        /// <summary>Bare degrees, or with the signs of a drawing: <c>0.5</c>, <c>0°20'</c>.</summary>
        private static bool TryAngle(string text, out decimal arcSeconds, out string? refusal)
        {
            if (text.AsSpan().ContainsAny(Signs))
                return AngleText.TryParse(text, out arcSeconds, out refusal);
            var read = NumberText.TryParse(text, out var degrees, out refusal);
            arcSeconds = degrees * 3600;
            return read;
        }

        /// <returns>Null when something is wrong.</returns>
        private static Read? ReadForm(Request request, BuildSources sources, List<FieldProblem> problems)
        {
            void Wrong(string field, string message) => problems.Add(new FieldProblem(field, message));
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
            var angle = one?.Angle ?? other?.Angle ?? false;
            if (!(angle ? TryAngle(request.Within ?? "", out var within, out var refusal) : NumberText.TryParse(request.Within ?? "", out within, out refusal)))
                Wrong(nameof(request.Within), refusal!);
            else if (within <= 0)
                Wrong(nameof(request.Within), "The difference that is allowed is above zero.");
            if (request.Rule is not ("simple" or "guarded"))
                Wrong(nameof(request.Rule), "Choose how it is judged.");
            return problems.Count > 0 || one is null ? null : new Read(name, left!, right!, within, angle ? "deg" : "mm", request.Rule!);

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
