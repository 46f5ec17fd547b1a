using FabLink.Portal.Platform.Database;

namespace FabLink.Portal.Features.WorkOrders;

/// <summary>What is odd about a draft before it is issued: its routes against what the drawings ask for, and its need dates against today.</summary>
public static class DraftChecks
{
    public sealed record LineFacts(Guid Id, int Ordinal, string Revision, DateOnly NeedDate, int Quantity, bool MaySample, bool Sampled, string? NewerRevision = null);

    public sealed record StepFacts(Guid LineId, int Ordinal, string Kind, string Doer, string? Stage, string Gate, string? OpensBy, int? NoticeHours, int PlannedDays);

    /// <summary>So many balloons of the drawing of this line are checked at this stage.</summary>
    public sealed record Asked(Guid LineId, string Stage, int Balloons);

    public sealed record Draft(IReadOnlyList<LineFacts> Lines, IReadOnlyList<StepFacts> Steps, IReadOnlyList<Asked> Asks)
    {
        public IReadOnlyList<StepFacts> RouteOf(Guid line) => [.. Steps.Where(step => step.LineId == line)];

        /// <summary>A hold that waits for a report where the drawing asks nothing: once issued, an engineer opens it by name.</summary>
        public bool IsOpenedByName(StepFacts step) => step.OpensBy == "report" && !Asks.Any(ask => ask.LineId == step.LineId && ask.Stage == step.Stage);
    }

    private const string Lines = """
        select l.id, l.ordinal, p.number || ' ' || r.letter as revision, l.need_date, l.quantity,
               exists (select 1 from characteristic c where c.revision_id = l.revision_id and c.class <> 'critical') as may_sample,
               exists (select 1 from line_sampling s where s.line_id = l.id) as sampled,
               (select n.letter from newer_revision(r.id) n) as newer_revision
        from work_order_line l join revision r on r.id = l.revision_id join part p on p.id = r.part_id
        where l.work_order_id = @id order by l.ordinal
        """;

    private const string Steps = """
        select t.line_id, t.ordinal, t.kind, o.name as doer, t.stage, t.gate, t.opens_by, t.notice_hours, t.planned_days
        from route_step t join organisation o on o.id = t.organisation_id where t.work_order_id = @id order by t.ordinal
        """;

    private const string Asks = """
        select l.id as line_id, s.stage, count(*)::int as balloons
        from work_order_line l join characteristic c on c.revision_id = l.revision_id cross join unnest(c.stages) s (stage)
        where l.work_order_id = @id group by l.id, s.stage
        """;

    public static async Task<Draft> LoadAsync(Work work, Guid id) =>
        new(await work.RowsAsync<LineFacts>(Lines, new { id }), await work.RowsAsync<StepFacts>(Steps, new { id }), await work.RowsAsync<Asked>(Asks, new { id }));

    /// <summary>In sentences, line by line.</summary>
    public static IReadOnlyList<string> Of(Draft draft, DateOnly today) => [.. draft.Lines.SelectMany(line => OfLine(draft, line, today))];

    private static IEnumerable<string> OfLine(Draft draft, LineFacts line, DateOnly today)
    {
        var route = draft.RouteOf(line.Id);
        if (line.NewerRevision is { } newer)
            yield return $"Line {line.Ordinal} orders {line.Revision}, and revision {newer} of its drawing is released: edit the draft to order that one.";
        foreach (var step in route.Where(draft.IsOpenedByName))
            yield return $"Line {line.Ordinal}, step {step.Ordinal} ({step.Kind}) holds for a report at stage {step.Stage}, and {line.Revision} asks for nothing at that stage: an engineer opens this hold by name.";
        foreach (var ask in draft.Asks.Where(ask => ask.LineId == line.Id && route.All(step => step.Stage != ask.Stage)).OrderBy(ask => Reports.Stages.All.ToList().IndexOf(ask.Stage)))
        {
            var (balloons, them) = ask.Balloons == 1 ? ("1 balloon", "it") : ($"{ask.Balloons} balloons", "them");
            yield return $"{line.Revision} asks for {balloons} at stage {ask.Stage}, and no step of line {line.Ordinal} takes a report there: nobody is told to measure {them}.";
        }

        foreach (var step in route.Where(step => step is { Gate: "none", Stage: { } stage } && draft.Asks.Any(ask => ask.LineId == line.Id && ask.Stage == stage)
                                                 && route.All(other => other.Stage != stage || other.Gate == "none")))
        {
            yield return step == route[^1]
                ? $"Line {line.Ordinal} ends with {step.Kind}, and nothing waits for its report at stage {step.Stage}: a piece is through without it. Let the step hold for the report."
                : $"Line {line.Ordinal}, step {step.Ordinal} ({step.Kind}): nothing waits for its report at stage {step.Stage}, and a piece goes on without it. Let the step hold for the report.";
        }

        if (line is { Quantity: > 1, MaySample: true, Sampled: false })
            yield return $"All {line.Quantity} pieces of line {line.Ordinal} are measured for everything: no sampling is chosen.";
        if (line.NeedDate < today)
            yield return $"Line {line.Ordinal} is needed on {When.Day(line.NeedDate)}, which is over.";
    }
}
