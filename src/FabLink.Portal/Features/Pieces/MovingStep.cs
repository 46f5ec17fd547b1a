using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;
using FluentValidation;
using Npgsql;

namespace FabLink.Portal.Features.Pieces;

/// <summary>A step that somebody is about to move, locked so that the second of two people sees what the first did.</summary>
public sealed record MovingStep(
    Guid Id,
    Guid OwnerId,
    Guid WorkOrderId,
    Guid PieceId,
    string Serial,
    int Ordinal,
    string Kind,
    string? Stage,
    string Gate,
    string? OpensBy,
    int? NoticeHours,
    Guid OrganisationId,
    string OrganisationName,
    DateTimeOffset? StartedAt,
    string? StartedBy,
    DateTimeOffset? FinishedAt,
    string? FinishedBy,
    DateTimeOffset? AskedAt,
    string? AskedBy,
    DateTimeOffset? OpenedAt,
    string? OpenedHow,
    Guid? ShopId,
    string? OrderNumber,
    DateTimeOffset? AcceptedAt,
    DateTimeOffset? ClosedAt,
    string? Ended,
    string? Why,
    string? OpenedBy)
{
    // Locked by a statement of its own: a row that another transaction changed while we waited is then read anew with all that it joins.
    // Ordered, so that two bulk moves never wait for each other in a ring.
    private const string Lock = "select id from piece_step where id = any (@Ids) order by id for update";

    // A process shop does not see the order, hence the outer join.
    private const string Select = """
        select s.id, s.owner_id, s.work_order_id, s.piece_id, p.serial, s.ordinal, r.kind, r.stage, r.gate, r.opens_by, r.notice_hours,
               s.organisation_id, coalesce(o.name, '') as organisation_name,
               s.started_at, starter.name as started_by, s.finished_at, finisher.name as finished_by,
               s.asked_at, asker.name as asked_by, s.opened_at, s.opened_how,
               w.shop_id, w.number as order_number, w.accepted_at, w.closed_at, st.ended, st.why, opener.name as opened_by
        from piece_step s
        join route_step r on r.id = s.route_step_id
        join piece p on p.id = s.piece_id
        left join organisation o on o.id = s.organisation_id
        left join work_order w on w.id = s.work_order_id
        left join person starter on starter.id = s.started_by
        left join person finisher on finisher.id = s.finished_by
        left join person asker on asker.id = s.asked_by
        left join person opener on opener.id = s.opened_by
        left join lateral piece_stand(s.piece_id) st on true
        where s.id = any (@Ids) order by p.serial, s.id
        """;

    /// <summary>All of them, or null when there is none or one of them is not there for this actor.</summary>
    public static async Task<IReadOnlyList<MovingStep>?> LoadAsync(Work work, IReadOnlyCollection<Guid> ids)
    {
        var steps = new { Ids = ids.Distinct().ToArray() };
        await work.RowsAsync<Guid>(Lock, steps);
        var loaded = await work.RowsAsync<MovingStep>(Select, steps);
        return loaded.Count > 0 && loaded.Count == steps.Ids.Length ? loaded : null;
    }

    /// <summary>Writes it down; what the database refuses comes back as a sentence.</summary>
    public async Task<RouteRefusal?> WriteAsync(Work work, string sql, DateTimeOffset now, string? reason = null)
    {
        if (Ended == "cancelled")
            return RouteRefusal.Cancelled(OrderNumber, Why!);
        try
        {
            await work.ExecuteAsync(sql, new { Id, Now = now, work.Actor.PersonId, OnBehalf = OnBehalf(work.Actor), Reason = reason });
            return null;
        }
        catch (PostgresException error) when (RouteRefusal.From(error) is { } why)
        {
            return why;
        }
    }

    public Relation RelationOf(Actor actor) => actor.RelationTo(OwnerId, ShopId);

    /// <summary>The organisation that the step was given to, or the build shop on its behalf.</summary>
    public bool MovedBy(Actor actor) => actor.OrganisationId == OrganisationId || actor.OrganisationId == OwnerId;

    public bool OnBehalf(Actor actor) => actor.OrganisationId != OrganisationId;
}

/// <summary>What is asked of steps that somebody ticked: of one piece, or of many at once.</summary>
public interface IStepsChosen
{
    IReadOnlyList<Guid> StepIds { get; }
}

public abstract class StepsChosenValidator<T> : AbstractValidator<T>
    where T : IStepsChosen
{
    protected StepsChosenValidator() =>
        RuleFor(request => request.StepIds).NotEmpty().WithMessage("Choose at least one piece.")
            .Must(ids => ids is null || ids.Count <= 500).WithMessage("At most 500 pieces at once.");
}
