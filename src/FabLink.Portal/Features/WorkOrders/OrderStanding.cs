using FabLink.Portal.Features.Pieces;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>What is counted of a work order, to say whose turn it is.</summary>
/// <param name="WaitingSince">When the oldest question was asked that has no answer yet.</param>
/// <param name="LinesWithoutPromise">Of which the shop still has pieces.</param>
/// <param name="Pieces">Those that go on: not scrapped, not made anew as another. Before the order is issued, how many it will be.</param>
/// <param name="PiecesScrapped">No other piece took their place.</param>
/// <param name="PiecesBegun">A step of theirs was started.</param>
/// <param name="NextNeed">The earliest need date of a line that has unfinished pieces.</param>
/// <param name="DaysPromisedLate">The most days that a line with unfinished pieces is promised after its need date; 0 when none is.</param>
/// <param name="LatePart">The part of that line, needed on <see cref="LateNeed"/>.</param>
public sealed record OrderFacts(
    Guid Id,
    string Number,
    Guid OwnerId,
    string OwnerName,
    Guid ShopId,
    string ShopName,
    string PurchaseOrderNumber,
    DateTimeOffset? IssuedAt,
    DateTimeOffset? AcceptedAt,
    DateTimeOffset? DeclinedAt,
    string? DeclineReason,
    DateTimeOffset? ClosedAt,
    DateTimeOffset? WaitingSince,
    int Lines,
    int LinesWithoutPromise,
    int Pieces,
    int PiecesDone,
    int PiecesForRelease,
    int PiecesForReport,
    int PiecesNotConforming,
    DateOnly? NextNeed,
    int DaysPromisedLate,
    int PiecesScrapped = 0,
    string? CloseReason = null,
    int PiecesBegun = 0,
    string? LatePart = null,
    DateOnly? LateNeed = null)
{
    /// <summary>Which line is promised how many days after its need date; null when none is.</summary>
    public string? LatePromise => DaysPromisedLate == 0 || LateNeed is not { } need ? null
        : $"{LatePart}, needed {When.Day(need)}, is promised {DaysPromisedLate} {(DaysPromisedLate == 1 ? "day" : "days")} after";

    /// <summary>How many of how many pieces were scrapped without another in their place; null when none was.</summary>
    public string? Scrapped => PiecesScrapped == 0 ? null : $"{PiecesScrapped} of {Pieces + PiecesScrapped} scrapped";

    public const string OfOne = Begin + "w.id = @id" + Rest + " where w.id = @id";

    // A question about what is made of a cancelled order is somebody's turn still.
    private const string IsOpen = "(w.closed_at is null or w.close_reason is not null and exists (select 1 from question q where q.work_order_id = w.id and q.answered_at is null))";

    public const string OfOpen = Begin + IsOpen + Rest + " where " + IsOpen + " order by w.created_at desc";

    public const string OfClosed = Begin + "w.closed_at is not null" + Rest + " where w.closed_at is not null order by w.closed_at desc limit 500";

    private const string Begin = """
        with piece_now as (
            select s.work_order_id, s.line_id, s.piece_id,
                   bool_and(s.finished_at is not null and (r.gate = 'none' or s.opened_at is not null)) as done,
                   bool_or(s.started_at is not null) as begun,
                   -- The shop has it still: as left_shop_at finds it, and on no packing slip.
                   not exists (select 1 from packing_slip_piece x where x.piece_id = s.piece_id)
                   and coalesce(max(s.ordinal) filter (where s.organisation_id <> w.shop_id and r.kind <> 'inspect' and s.started_at is not null), 0)
                       <= coalesce(max(s.ordinal) filter (where s.organisation_id = w.shop_id), 0) as at_shop,
                   exists (select 1 from nonconformance n where n.piece_id = s.piece_id and n.disposition in ('scrap', 'remake')) as given_up,
                   bool_or(s.finished_at is not null and s.opened_at is null and (r.opens_by = 'person' or r.gate = 'witness' and s.asked_at is not null)) as for_release,
                   bool_or(s.finished_at is not null and s.opened_at is null and r.opens_by = 'report') as for_report,
                   exists (select 1 from nonconformance n where n.piece_id = s.piece_id and n.closed_at is null and decision_of(n) is null) as not_conforming,
                   exists (select 1 from nonconformance n where n.piece_id = s.piece_id and n.closed_at is null and decision_of(n) in ('rework', 'repair')) as in_rework
            from piece_step s join route_step r on r.id = s.route_step_id join work_order w on w.id = s.work_order_id
            where
        """ + " ";

    private const string Rest = """

            group by s.work_order_id, s.line_id, s.piece_id
        ), by_line as (
            select work_order_id, line_id, count(*) as pieces, count(*) filter (where done and not not_conforming and not in_rework) as done, count(*) filter (where for_release and not not_conforming and not in_rework) as for_release,
                   count(*) filter (where (for_report or in_rework) and not not_conforming) as for_report,
                   count(*) filter (where not_conforming) as not_conforming, count(*) filter (where begun) as begun, count(*) filter (where at_shop and not done) as at_shop
            from piece_now where not given_up group by work_order_id, line_id
        ), by_order as (
            select l.work_order_id, count(*)::integer as lines,
                   (count(*) filter (where m.promised_date is null and (b.pieces is null or b.at_shop > 0)))::integer as lines_without_promise,
                   coalesce(sum(b.pieces), 0)::integer as pieces, coalesce(sum(b.done), 0)::integer as done,
                   coalesce(sum(b.for_release), 0)::integer as for_release, coalesce(sum(b.for_report), 0)::integer as for_report,
                   coalesce(sum(b.not_conforming), 0)::integer as not_conforming, coalesce(sum(b.begun), 0)::integer as begun,
                   min(l.need_date) filter (where b.pieces is null or b.done < b.pieces) as next_need,
                   greatest(coalesce(max(m.promised_date - l.need_date) filter (where b.done < b.pieces), 0), 0) as days_promised_late,
                   (array_agg(l.id order by m.promised_date - l.need_date desc) filter (where b.done < b.pieces and m.promised_date > l.need_date))[1] as late_line
            from work_order_line l
            left join by_line b on b.line_id = l.id
            left join lateral (select promised_date from promise where line_id = l.id order by made_at desc, id desc limit 1) m on true
            group by l.work_order_id
        )
        select w.id, w.number, w.owner_id, owner.name as owner_name, w.shop_id, shop.name as shop_name, w.purchase_order_number,
               w.issued_at, w.accepted_at, w.declined_at, w.decline_reason, w.closed_at,
               (select min(q.asked_at) from question q where q.work_order_id = w.id and q.answered_at is null) as waiting_since,
               coalesce(o.lines, 0) as lines, coalesce(o.lines_without_promise, 0) as lines_without_promise, case when w.issued_at is null then (select coalesce(sum(l.quantity), 0)::integer from work_order_line l where l.work_order_id = w.id) else coalesce(o.pieces, 0) end as pieces,
               coalesce(o.done, 0) as pieces_done, coalesce(o.for_release, 0) as pieces_for_release, coalesce(o.for_report, 0) as pieces_for_report,
               coalesce(o.not_conforming, 0) as pieces_not_conforming, o.next_need, coalesce(o.days_promised_late, 0) as days_promised_late,
               (select count(distinct n.piece_id) from nonconformance n where n.work_order_id = w.id and n.disposition = 'scrap')::integer as pieces_scrapped, w.close_reason, coalesce(o.begun, 0) as pieces_begun,
               late_part.number as late_part, late_line.need_date as late_need
        from work_order w
        join organisation owner on owner.id = w.owner_id
        join organisation shop on shop.id = w.shop_id
        left join by_order o on o.work_order_id = w.id
        left join work_order_line late_line on late_line.id = o.late_line
        left join revision late_revision on late_revision.id = late_line.revision_id
        left join part late_part on late_part.id = late_revision.part_id
        """;
}

/// <summary>Whose turn it is.</summary>
public enum Turn
{
    Nobody,
    BuildShop,
    Shop,

    /// <summary>Another shop with a step of the route.</summary>
    Process,
}

/// <summary>What is true of a work order and who must do what: one sentence, from the facts alone.</summary>
/// <param name="Measurers">Whose turn it is where pieces wait to be measured; null where they are not what the order waits for.</param>
public sealed record OrderStanding(Turn Turn, string Headline, string ToDo, DateTimeOffset? Since, bool Late = false, string? Measurers = null)
{
    /// <param name="today">The day on which it is asked.</param>
    /// <param name="held">Whose turn the pieces are that wait for a report; empty: the shop's.</param>
    public static OrderStanding Of(OrderFacts order, DateOnly today, IEnumerable<Whose>? held = null)
    {
        var whose = held?.Distinct().OrderBy(each => each.Name, StringComparer.Ordinal).ToList() ?? [];
        if (whose.Count == 0)
            whose = [new(order.ShopId, order.ShopName)];
        var open = order is { IssuedAt: not null, DeclinedAt: null, ClosedAt: null } && order.PiecesDone < order.Pieces;
        return Said(order, whose) with { Late = open && (order.NextNeed < today || order.DaysPromisedLate > 0) };
    }

    private static OrderStanding Said(OrderFacts o, List<Whose> held) => o switch
    {
        { ClosedAt: not null, CloseReason: { } why, WaitingSince: { } waiting } => new(Turn.BuildShop, $"Cancelled, and a question waits for the answer of {o.OwnerName}", $"{o.OwnerName} says why: {Sentence(why)} Nothing more of it starts. The question of {o.ShopName} stands below.", waiting),
        { ClosedAt: { } cancelled, CloseReason: { } why } => new(Turn.Nobody, "Cancelled", $"{o.OwnerName} says why: {Sentence(why)} Nothing more of it starts.", cancelled),
        { ClosedAt: { } closed } => new(Turn.Nobody, "Closed", o.IssuedAt is null ? "Nothing is left to do. It was never issued." : $"Nothing is left to do. {o.ShopName} returns or destroys its drawings.", closed),
        { IssuedAt: null } => new(Turn.BuildShop, "Draft, not issued yet", $"{o.OwnerName} issues it; only then {o.ShopName} sees it and the pieces get their serials.", null),
        { DeclinedAt: { } declined } => new(Turn.BuildShop, $"{o.ShopName} declined", $"Reason: {o.DeclineReason} {o.OwnerName} closes it and writes a new one.", declined),
        { AcceptedAt: null } => new(Turn.Shop, "Waiting to be accepted", $"{o.ShopName} accepts or declines it.", o.IssuedAt),
        { WaitingSince: { } asked } => new(Turn.BuildShop, $"Waiting for the answer of {o.OwnerName}", $"{o.ShopName} asked a question; its clock stands until {o.OwnerName} answers.", asked),
        { PiecesNotConforming: > 0 } => new(Turn.BuildShop, $"{Count(o.PiecesNotConforming)} not conforming", $"An engineer of {o.OwnerName} decides: rework, repair, use as is, remake or scrap.", null),
        { PiecesForRelease: > 0 } => new(Turn.BuildShop, $"{Count(o.PiecesForRelease)} {(o.PiecesForRelease == 1 ? "waits" : "wait")} for an engineer", $"An engineer of {o.OwnerName} looks and releases: a hold, or a step to which a witness was invited.", null),
        { PiecesForReport: > 0 } => new(TurnOf(o, held), $"{Count(o.PiecesForReport)} held until measured", $"{Names(held)} {(held.Count == 1 ? "measures and sends" : "measure and send")} a conforming report.", null, Measurers: Names(held)),
        _ when o.PiecesDone == o.Pieces => new(Turn.BuildShop, "Every piece is through its route", $"{(o.PiecesScrapped == 0 ? "" : $"{Count(o.PiecesScrapped)} {(o.PiecesScrapped == 1 ? "was" : "were")} scrapped and {(o.PiecesScrapped == 1 ? "is" : "are")} missing: order anew what is needed. ")}{o.OwnerName} closes the order.", null),
        { LinesWithoutPromise: > 0 } => new(Turn.Shop, "No promise date yet", $"{o.ShopName} gives a promise date for {(o.Lines == 1 ? "the line" : $"{o.LinesWithoutPromise} of {o.Lines} lines")}.", o.AcceptedAt),
        { PiecesBegun: 0 } => new(Turn.Shop, "Nothing is started yet", $"{o.ShopName} starts {(o.Pieces == 1 ? "the piece" : $"the {o.Pieces} pieces")}.", o.AcceptedAt),
        _ => new(Turn.Shop, $"In work: {o.PiecesDone} of {o.Pieces} through the route", $"{o.ShopName} and the shops on the route carry on.", o.AcceptedAt),
    };

    private static Turn TurnOf(OrderFacts o, List<Whose> held) =>
        held.Exists(each => each.Id == o.ShopId) ? Turn.Shop : held.Exists(each => each.Id == o.OwnerId) ? Turn.BuildShop : Turn.Process;

    private static string Names(List<Whose> held) => string.Join(" and ", held.Select(each => each.Name));

    /// <summary>What a person wrote, with its full stop.</summary>
    public static string Sentence(string typed) => typed.Length > 0 && char.IsLetterOrDigit(typed[^1]) ? typed + "." : typed;

    private static string Count(int pieces) => pieces == 1 ? "1 piece" : $"{pieces} pieces";

    public string TurnOf(OrderFacts order) => Measurers ?? Turn switch
    {
        Turn.BuildShop => order.OwnerName,
        Turn.Shop => order.ShopName,
        _ => "nobody",
    };
}
