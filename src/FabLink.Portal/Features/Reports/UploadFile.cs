using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Reports;

/// <summary>Takes a measurement file in to be looked at; nothing is judged before the person has seen what was understood.</summary>
public static class UploadFile
{
    public sealed record Request(Guid LineId, string Stage, string FileName, bool OnBehalf);

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Kept(Guid UploadId) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;

        /// <param name="Why">Names the file and what is accepted.</param>
        public sealed record Refused(string Why) : Outcome;
    }

    public sealed class Handler(Database database, FileStore files, TimeProvider clock)
    {
        private const string Insert = """
            insert into upload (id, work_order_id, line_id, organisation_id, stage, file_name, sha256, size, on_behalf, uploaded_at, uploaded_by)
            values (@id, @WorkOrderId, @LineId, @OrganisationId, @Stage, @FileName, @Sha256, @Size, @OnBehalf, @Now, @PersonId)
            """;

        public async Task<Outcome> HandleAsync(Actor actor, Request request, Stream content, CancellationToken cancellation)
        {
            if (!Stages.All.Contains(request.Stage))
                return new Outcome.Refused("Choose the stage at which it was measured.");
            await using var work = await database.BeginAsync(actor, cancellation);
            var pieces = await Measuring.PiecesOfLineAsync(work, request.LineId);
            if (pieces.Count == 0)
                return new Outcome.NotFound();
            if (!actor.May(Deed.SubmitReport, pieces[0].RelationOf(actor)))
                return new Outcome.NotAllowed();
            if (await Measuring.NotGivenAsync(work, [pieces[0]], request.Stage) is { } notGiven)
                return new Outcome.Refused(notGiven);
            StoredFile kept;
            try
            {
                kept = await files.SaveAsync(content, request.FileName, FileRule.Measurements, cancellation);
            }
            catch (FileRefused refused)
            {
                return new Outcome.Refused(refused.Message);
            }
            var now = clock.GetUtcNow();
            var id = Guid.CreateVersion7(now);
            await work.ExecuteAsync(Insert, new
            {
                id,
                pieces[0].WorkOrderId,
                request.LineId,
                actor.OrganisationId,
                request.Stage,
                FileName = FileNames.Safe(request.FileName),
                kept.Sha256,
                kept.Size,
                OnBehalf = request.OnBehalf && pieces[0].RelationOf(actor) == Relation.Owner,
                Now = now,
                actor.PersonId,
            });
            await work.CommitAsync();
            return new Outcome.Kept(id);
        }
    }
}
