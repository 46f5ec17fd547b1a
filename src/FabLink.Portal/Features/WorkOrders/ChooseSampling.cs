using System.Security.Cryptography;
using FabLink.Engineering.Sampling;
using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// Before a line is issued, the engineer may let its major or minor characteristics be checked on a sample. The pieces are drawn when the order is
/// issued; a sample that fails makes the whole line be checked. Critical characteristics are never sampled.
/// </summary>
public static class ChooseSampling
{
    public static IReadOnlyList<string> Classes { get; } = ["major", "minor"];

    /// <param name="Major">The key of an offer; empty for every piece.</param>
    /// <param name="Minor">The same.</param>
    public sealed record Request(Guid Id, Guid LineId, string? Major, string? Minor)
    {
        public string? Of(string characteristicClass) => characteristicClass == "major" ? Major : Minor;
    }

    public sealed record LineRow(Guid Id, string PartNumber, string Revision, int Quantity, int Critical, int Major, int Minor);

    public sealed record Chosen(Guid LineId, string Class, string Method, string Plan, int Lot, int SampleSize, int Accept, long Seed, DateTimeOffset? FailedAt, string[] Serials)
    {
        public string Words => $"{Class}: {SampleSize} of {Lot} pieces, {(Accept == 0 ? "none may fail" : $"up to {Accept} may fail")} ({Plan}; seed {Seed})";
    }

    public sealed record Page(OrderHead Order, LineRow Line, IReadOnlyList<SamplingOffer> Offers, IReadOnlyList<Chosen> Chosen)
    {
        public int CountOf(string characteristicClass) => characteristicClass == "major" ? Line.Major : Line.Minor;

        public string KeyOf(string characteristicClass) =>
            Chosen.FirstOrDefault(one => one.Class == characteristicClass) is { } plan ? Offers.FirstOrDefault(offer => offer.Words == plan.Plan)?.Key ?? "" : "";
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Saved(int Plans) : Outcome;

        public sealed record AlreadyIssued(string Number) : Outcome;

        public sealed record NotOffered(string Field) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    private const string OfOrder = """
        select s.line_id, s.class, s.method, s.plan, s.lot, s.sample_size, s.accept, s.seed, s.failed_at,
               array(select p.serial from line_sample_piece m join piece p on p.id = m.piece_id
                     where m.line_id = s.line_id and m.class = s.class order by p.serial) as serials
        from line_sampling s where s.work_order_id = @id order by s.line_id, s.class
        """;

    public static Task<IReadOnlyList<Chosen>> OfOrderAsync(Work work, Guid id) => work.RowsAsync<Chosen>(OfOrder, new { id });

    /// <summary>Draws the pieces of a line that was just made, for each of its plans.</summary>
    public static async Task DrawAsync(Work work, Guid orderId, Guid lineId, IReadOnlyList<Guid> pieces)
    {
        const string Insert = """
            insert into line_sample_piece (line_id, class, piece_id, work_order_id) select @lineId, @Class, unnest(@Drawn), @orderId
            """;
        foreach (var plan in (await OfOrderAsync(work, orderId)).Where(plan => plan.LineId == lineId))
        {
            var drawn = RandomSample.Draw(pieces.Count, plan.SampleSize, plan.Seed).Select(place => pieces[place]).ToArray();
            await work.ExecuteAsync(Insert, new { orderId, lineId, plan.Class, Drawn = drawn });
        }
    }

    public sealed class Handler(Database database, TimeProvider clock)
    {
        private const string Line = """
            select l.id, p.number as part_number, r.letter as revision, l.quantity,
                   (select count(*)::integer from characteristic c where c.revision_id = r.id and c.class = 'critical') as critical,
                   (select count(*)::integer from characteristic c where c.revision_id = r.id and c.class = 'major') as major,
                   (select count(*)::integer from characteristic c where c.revision_id = r.id and c.class = 'minor') as minor
            from work_order_line l join revision r on r.id = l.revision_id join part p on p.id = r.part_id
            where l.id = @lineId and l.work_order_id = @id
            """;

        private const string Insert = """
            insert into line_sampling (line_id, work_order_id, class, method, plan, lot, sample_size, accept, seed, chosen_at, chosen_by)
            values (@LineId, @Id, @Class, @Method, @Words, @Quantity, @SampleSize, @Accept, @Seed, @now, @PersonId)
            """;

        public async Task<Page?> PageAsync(Actor actor, Guid id, Guid lineId, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LoadAsync(work, id) is not { } order
                || !actor.May(Deed.ChooseSampling, order.RelationOf(actor))
                || await work.RowAsync<LineRow>(Line, new { id, lineId }) is not { } line)
                return null;
            return new Page(order, line, SamplingOffer.For(line.Quantity), [.. (await OfOrderAsync(work, id)).Where(plan => plan.LineId == lineId)]);
        }

        public async Task<Outcome> HandleAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await OrderHead.LockAsync(work, request.Id) is not { } order)
                return new Outcome.NotFound();
            if (!actor.May(Deed.ChooseSampling, order.RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (!order.IsDraft)
                return new Outcome.AlreadyIssued(order.Number);
            if (await work.RowAsync<LineRow>(Line, new { id = request.Id, lineId = request.LineId }) is not { } line)
                return new Outcome.NotFound();

            await work.ExecuteAsync("delete from line_sampling where line_id = @LineId", new { request.LineId });
            var offers = SamplingOffer.For(line.Quantity);
            var plans = 0;
            foreach (var one in Classes.Where(one => !string.IsNullOrEmpty(request.Of(one))))
            {
                if (offers.FirstOrDefault(offer => offer.Key == request.Of(one)) is not { } offer)
                    return new Outcome.NotOffered(one);
                await work.ExecuteAsync(Insert, new
                {
                    request.LineId,
                    request.Id,
                    Class = one,
                    offer.Method,
                    offer.Words,
                    line.Quantity,
                    offer.SampleSize,
                    offer.Accept,
                    // Nobody can know before the pieces are made which of them are looked at.
                    Seed = (long)RandomNumberGenerator.GetInt32(int.MaxValue),
                    now = clock.GetUtcNow(),
                    actor.PersonId,
                });
                plans++;
            }

            await work.CommitAsync();
            return new Outcome.Saved(plans);
        }
    }
}
