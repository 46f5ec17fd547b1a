using FabLink.Portal.Features.Notices;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Drawings;

/// <summary>The engineer releases a revision: from then on nothing of it changes, and shops with earlier pieces in work are told.</summary>
public static class ReleaseRevision
{
    /// <param name="WithoutGeneralTolerance">The engineer has read that a welded part has none, and wants it so.</param>
    public sealed record Request(Guid RevisionId, int RowVersion, bool WithoutGeneralTolerance = false);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        /// <param name="Told">People who got a notice because pieces of an earlier revision are in work.</param>
        public sealed record Released(string Letter, int Told) : Outcome;

        public sealed record NoCharacteristics : Outcome;

        /// <summary>Rows whose limits are not what their requirement says under this title block.</summary>
        public sealed record Unreadable(IReadOnlyList<string> Problems) : Outcome;

        /// <summary>ISO 13920 asks for a general tolerance on the drawing of a welded part.</summary>
        public sealed record AsksForGeneralTolerance : Outcome;

        public sealed record Stale(Changed Change, int RowVersion) : Outcome;

        public sealed record ReleasedAlready(Changed Change) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Release = """
            update revision set released_at = @now, released_by = @PersonId, row_version = row_version + 1 where id = @Id
            """;

        private const string SelectHead = """
            select d.number, p.name from drawing d join part p on p.id = d.part_id where d.id = @DrawingId
            """;

        private sealed record Head(string Number, string Name);

        // Where no piece is made yet, the newest drawing is what a joint stands on.
        private const string Recheck = """
            select ask_recheck('re-check a build', b, @now) from (select distinct build_id as b from joint where removed_at is null and (part_id = @PartId or mate_part_id = @PartId)) j
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            if (!actor.May(Deed.ReleaseRevision, Relation.Own))
                return new Outcome.NotAllowed();
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await RevisionRow.LockAsync(work, request.RevisionId) is not { } revision)
                return new Outcome.NotFound();
            if (revision.ReleasedAt is not null)
                return new Outcome.ReleasedAlready(await RevisionRow.LastChangeAsync(work, revision.Id));
            if (revision.RowVersion != request.RowVersion)
                return new Outcome.Stale(await RevisionRow.LastChangeAsync(work, revision.Id), revision.RowVersion);

            var characteristics = await RevisionRow.CharacteristicsAsync(work, revision.Id);
            if (characteristics.Count == 0)
                return new Outcome.NoCharacteristics();
            if (Unreadable(revision, characteristics) is { Count: > 0 } problems)
                return new Outcome.Unreadable(problems);
            if (revision is { Welded: true, GeneralTolerance: null } && !request.WithoutGeneralTolerance)
                return new Outcome.AsksForGeneralTolerance();

            var now = clock.GetUtcNow();
            await work.ExecuteAsync(Release, new { revision.Id, actor.PersonId, now });
            await work.ExecuteAsync(Recheck, new { revision.PartId, now });
            var told = await TellAsync(work, now, revision);
            await work.CommitAsync();
            return new Outcome.Released(revision.Letter, told);
        }

        // What is released is judged for years: read every row once more, as if it had just been typed.
        private static List<string> Unreadable(RevisionRow revision, IReadOnlyList<Characteristic> characteristics)
        {
            var reading = CharacteristicReader.Read([.. characteristics.Select(one => one.ToEntry())], revision.Unit, revision.GeneralTolerance);
            var problems = reading.Problems.Select(problem => $"Balloon {characteristics[problem.Row].Balloon}: {problem.Message}").ToList();
            var again = reading.Characteristics.ToDictionary(one => one.Balloon);
            problems.AddRange(
                from one in characteristics
                where again.TryGetValue(one.Balloon, out var read) && !read.SaysTheSameAs(one)
                select $"Balloon {one.Balloon}: its limits are not those of “{one.CallOut}”; save the table once more.");
            return problems;
        }

        private static async Task<int> TellAsync(Work work, DateTimeOffset now, RevisionRow revision)
        {
            var pieces = (await PiecesInWork.OfDrawingAsync(work, revision.DrawingId)).Where(piece => piece.Step is not null && piece.Piece.RevisionId != revision.Id).ToList();
            if (pieces.Count == 0)
                return 0;
            var head = await work.RowAsync<Head>(SelectHead, new { revision.DrawingId });
            var told = 0;
            foreach (var order in pieces.GroupBy(piece => (piece.Piece.WorkOrderId, piece.Piece.WorkOrder)))
            {
                var where = string.Join("\n", order.Select(piece => $"  {piece.Piece.Serial}, revision {piece.Piece.Letter}: {piece.Where} ({piece.With})"));
                var body = $"""
                    Drawing {head!.Number}, {head.Name}: revision {revision.Letter} was released on {now:ddd d MMM} by {work.Actor.Name}, {work.Actor.OrganisationName}.

                    These pieces on {order.Key.WorkOrder} are of an earlier revision:
                    {where}

                    Go on with them as ordered unless {work.Actor.OrganisationName} says otherwise on the work order. Ask there if you are unsure, before the next step. Prints of earlier revisions are not for new pieces.
                    """;
                foreach (var organisation in order.Select(piece => piece.Piece.ShopId).Concat(order.Select(piece => piece.Step!.OrganisationId)).Distinct())
                {
                    told += await Tell.OrganisationAsync(
                        work,
                        now,
                        "revision released",
                        organisation,
                        ["fabricator", "coater"],
                        order.Key.WorkOrderId,
                        null,
                        $"Drawing {head.Number}: revision {revision.Letter} released while pieces are in work",
                        body,
                        $"/revisions/{order.First().Piece.RevisionId}",
                        $"revision released {revision.Id} {order.Key.WorkOrderId}");
                }
            }

            return told;
        }
    }
}
