using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.Files;
using FabLink.Portal.Platform.People;
using FluentValidation;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>
/// Somebody keeps a photo, a print or a scan with a work order or one of its pieces: a shop's own paper is enough to start,
/// and what is said on its behalf has its evidence there.
/// </summary>
public static class AttachPaper
{
    /// <param name="WorkOrderId">Null when it goes with a piece: a process shop knows no order.</param>
    /// <param name="ForId">The build shop passes on what this shop of the order made; said by anybody else it means nothing.</param>
    public sealed record Request(Guid? WorkOrderId, Guid? PieceId, string? FileName, string? About, Guid? ForId = null);

    public sealed class Validator : AbstractValidator<Request>
    {
        public Validator()
        {
            RuleFor(request => request.FileName).NotEmpty().OverridePropertyName("File").WithMessage("Choose a photo or a PDF.");
            RuleFor(request => request.About).MaximumLength(500).WithMessage("At most 500 characters.");
        }
    }

    public abstract record Outcome
    {
        private Outcome()
        {
        }

        public sealed record Attached(Guid Id, string Name) : Outcome;

        /// <summary>Empty, too large, or neither a picture nor a PDF by its content.</summary>
        public sealed record Refused(string Sentence) : Outcome;

        public sealed record NotFound : Outcome;

        public sealed record NotAllowed : Outcome;
    }

    public sealed class Handler(Database database, FileStore files, TimeProvider clock)
    {
        private const string Subject = """
            select w.id as work_order_id, w.owner_id, w.shop_id from work_order w where w.id = @WorkOrderId::uuid and @PieceId::uuid is null
            union all
            select p.work_order_id, p.owner_id, w.shop_id from piece p left join work_order w on w.id = p.work_order_id where p.id = @PieceId::uuid
            """;

        private const string Insert = """
            insert into attachment (id, work_order_id, piece_id, organisation_id, name, file_type, sha256, size, about, added_at, added_by, for_id)
            values (@Id, @WorkOrderId, @PieceId, @OrganisationId, @Name, @Type, @Sha256, @Size, @About, @Now, @PersonId, @ForId::uuid)
            """;

        private sealed record Row(Guid WorkOrderId, Guid OwnerId, Guid? ShopId);

        /// <summary>Whether there is such an order or piece for this person at all.</summary>
        public async Task<bool> SeesAsync(Actor actor, Request request, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            return await work.RowAsync<Row>(Subject, new { request.WorkOrderId, request.PieceId }) is not null;
        }

        public async Task<Outcome> HandleAsync(Actor actor, Request request, Stream content, CancellationToken cancellation)
        {
            await using var work = await database.BeginAsync(actor, cancellation);
            if (await work.RowAsync<Row>(Subject, new { request.WorkOrderId, request.PieceId }) is not { } subject)
                return new Outcome.NotFound();
            if (!actor.May(Deed.MoveStep, actor.RelationTo(subject.OwnerId, subject.ShopId)))
                return new Outcome.NotAllowed();
            var passedOn = actor.OrganisationId == subject.OwnerId ? request.ForId : null;
            if (passedOn is { } shop && (await Papers.ShopsAsync(work, subject.WorkOrderId)).All(each => each.Id != shop))
                return new Outcome.Refused("That shop has no part in this order.");
            StoredFile stored;
            try
            {
                stored = await files.SaveAsync(content, request.FileName!, FileRule.Evidence, cancellation);
            }
            catch (FileRefused refused)
            {
                return new Outcome.Refused(refused.Message);
            }

            var now = clock.GetUtcNow();
            var id = Guid.CreateVersion7(now);
            var name = FileNames.Safe(request.FileName);
            await work.ExecuteAsync(Insert, new
            {
                Id = id,
                subject.WorkOrderId,
                request.PieceId,
                actor.OrganisationId,
                Name = name,
                Type = stored.Type.Code,
                stored.Sha256,
                stored.Size,
                About = request.About?.Trim() ?? "",
                Now = now,
                actor.PersonId,
                ForId = passedOn,
            });
            await work.CommitAsync();
            return new Outcome.Attached(id, name);
        }
    }
}
