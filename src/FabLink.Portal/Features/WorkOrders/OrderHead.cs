using FabLink.Portal.Platform.Database;
using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>The head of a work order: who, for whom, and what has been said of it so far.</summary>
public sealed record OrderHead(
    Guid Id,
    string Number,
    Guid OwnerId,
    string OwnerName,
    Guid ShopId,
    string ShopName,
    string PurchaseOrderNumber,
    string Note,
    DateTimeOffset CreatedAt,
    DateTimeOffset? IssuedAt,
    string? IssuedBy,
    DateTimeOffset? AcceptedAt,
    string? AcceptedBy,
    bool AcceptedFor,
    DateTimeOffset? DeclinedAt,
    string? DeclinedBy,
    Guid? DeclinedByOrganisation,
    string? DeclineReason,
    DateTimeOffset? ClosedAt,
    string? ClosedBy,
    string? CloseReason,
    int RowVersion)
{
    private const string Select = """
        select w.id, w.number, w.owner_id, owner.name as owner_name, w.shop_id, shop.name as shop_name, w.purchase_order_number, w.note,
               w.created_at, w.issued_at, issuer.name as issued_by, w.accepted_at, accepter.name as accepted_by, w.accepted_for,
               w.declined_at, decliner.name as declined_by, decliner.organisation_id as declined_by_organisation, w.decline_reason,
               w.closed_at, closer.name as closed_by, w.close_reason, w.row_version
        from work_order w
        join organisation owner on owner.id = w.owner_id
        join organisation shop on shop.id = w.shop_id
        left join person issuer on issuer.id = w.issued_by
        left join person accepter on accepter.id = w.accepted_by
        left join person decliner on decliner.id = w.declined_by
        left join person closer on closer.id = w.closed_by
        where w.id = @id
        """;

    /// <summary>The work order, or null when it is not there for this actor.</summary>
    public static Task<OrderHead?> LoadAsync(Work work, Guid id) => work.RowAsync<OrderHead>(Select, new { id });

    /// <summary>The same, held until the end of the transaction: the second of two people sees what the first did.</summary>
    public static async Task<OrderHead?> LockAsync(Work work, Guid id)
    {
        // In a statement of its own, so that what another transaction wrote while we waited is read with all that it joins.
        await work.ExecuteAsync("select 1 from work_order where id = @id for update", new { id });
        return await LoadAsync(work, id);
    }

    /// <summary>Has the builds of its lines looked at again: its pieces came into their places, or left them.</summary>
    public static Task RecheckBuildsAsync(Work work, Guid id, DateTimeOffset now) =>
        work.ExecuteAsync("select ask_recheck('re-check a build', b, @now) from (select distinct build_id as b from work_order_line where work_order_id = @id) l", new { id, now });

    public bool IsDraft => IssuedAt is null;

    /// <summary>Issued, not declined, not closed: work may be said about it.</summary>
    public bool IsOpen => IssuedAt is not null && DeclinedAt is null && ClosedAt is null;

    /// <summary>A question can be asked: on an open order, and on a cancelled one about what becomes of what is made.</summary>
    public bool TakesQuestions => IsOpen || CloseReason is not null;

    /// <summary>Why nothing is done on it, as a sentence: it is not open, or not accepted yet.</summary>
    public string Shut => this switch
    {
        { ClosedAt: not null, CloseReason: { } why } => $"{Number} is cancelled: {OrderStanding.Sentence(why)}",
        { DeclinedAt: { } declined } => $"{Number} was declined on {When.Time(declined)}{(ClosedAt is null ? "" : " and is closed")}.",
        { ClosedAt: { } closed } => $"{Number} was closed on {When.Time(closed)}.",
        { IssuedAt: null } => $"{Number} is not issued yet.",
        _ => $"{Number} is not accepted yet.",
    };

    public Relation RelationOf(Actor actor) => actor.RelationTo(OwnerId, ShopId);

    /// <summary>The build shop says something that is the shop's to say.</summary>
    public bool OnBehalf(Actor actor) => actor.OrganisationId == OwnerId;
}
