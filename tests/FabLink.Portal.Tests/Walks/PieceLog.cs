namespace FabLink.Portal.Tests.Walks;

/// <summary>What is asked of a piece at a stage: so many values of one characteristic.</summary>
public sealed record AskedValue(Guid Id, string Class, int Count, string[] Stages);

/// <summary>A step as it was planned.</summary>
public sealed record WalkStep(Guid Id, int Ordinal, string Kind, Guid Organisation, string? Stage, string Gate, string? OpensBy)
{
    public bool OnlyLooks => Kind is "inspect" or "receive";
}

public enum Found
{
    Good,
    Bad,
    Unproven,
}

/// <summary>
/// What was done with one piece, in the order in which it was done, and what follows from that by the rules as the documents of the portal state them
/// (docs/architecture.md, docs/guide-engineer.md). It reads the log each time anew and keeps no state of gates, so that it and the portal can only agree by the rules.
/// </summary>
/// <param name="excused">Is this class of characteristic not required of the piece after so many acts of the line?</param>
public sealed class PieceLog(IReadOnlyList<WalkStep> steps, IReadOnlyList<AskedValue> asked, Func<string, int, bool> excused)
{
    private abstract record Act(int At);

    private sealed record Started(int At, Guid Step) : Act(At);

    private sealed record Finished(int At, Guid Step) : Act(At);

    private sealed record Reported(int At, string Stage, IReadOnlyDictionary<(Guid, int), Found> Values, IReadOnlySet<Guid> Reached) : Act(At);

    private sealed record Conceded(int At, string Stage, IReadOnlySet<Guid> Reached) : Act(At);

    private sealed record Released(int At, Guid Step) : Act(At);

    private sealed record Decided(int At, string Stage) : Act(At);

    private sealed record Invited(int At, Guid Step) : Act(At);

    private sealed record NoticeOver(int At, Guid Step) : Act(At);

    private readonly List<Act> _acts = [];

    public IReadOnlyList<WalkStep> Steps => steps;

    /// <summary>Scrapped, made anew, or its order cancelled.</summary>
    public bool Over { get; private set; }

    public void Start(int at, Guid step) => _acts.Add(new Started(at, step));

    public void Finish(int at, Guid step) => _acts.Add(new Finished(at, step));

    public void Report(int at, string stage, IReadOnlyDictionary<(Guid, int), Found> values) => _acts.Add(new Reported(at, stage, values, Reached()));

    /// <summary>By a nonconformance that is used as it is, or on a report that shows too little.</summary>
    public void Concede(int at, string stage) => _acts.Add(new Conceded(at, stage, Reached()));

    /// <summary>A report that conformed is submitted once more: it brings nothing, and opens what has begun since.</summary>
    public void ReportAgain(int at, string stage) => _acts.Add(new Reported(at, stage, new Dictionary<(Guid, int), Found>(), Reached()));

    /// <summary>To be reworked or repaired.</summary>
    public void Decide(int at, string stage) => _acts.Add(new Decided(at, stage));

    public void Invite(int at, Guid step) => _acts.Add(new Invited(at, step));

    public void Release(int at, Guid step) => _acts.Add(new Released(at, step));

    public void Pass(int at, Guid step) => _acts.Add(new NoticeOver(at, step));

    public void End() => Over = true;

    public bool IsStarted(Guid step) => _acts.OfType<Started>().Any(act => act.Step == step);

    public bool IsFinished(Guid step) => _acts.OfType<Finished>().Any(act => act.Step == step);

    /// <summary>The first step that is not finished; null when all are.</summary>
    public WalkStep? Next => steps.FirstOrDefault(step => !IsFinished(step.Id));

    /// <summary>May this step begin, as far as the piece is concerned? Null when it may; else why not.</summary>
    public string? WhyNot(WalkStep step) =>
        Over ? "over"
        : IsStarted(step.Id) ? "started"
        : steps.FirstOrDefault(before => before.Ordinal < step.Ordinal && !IsFinished(before.Id)) is { } unfinished ? $"{unfinished.Kind} not finished"
        : steps.FirstOrDefault(before => before.Ordinal < step.Ordinal && !IsOpen(before)) is { } shut ? $"{shut.Kind} holds"
        : FailedStages() is [var stage, ..] ? $"failed at {stage}"
        : null;

    /// <summary>
    /// Who has to do something next. What failed is the engineer's until it is decided, and then of whoever has the stage; a hold that a person opens is the engineer's, as is a
    /// witness point to which they were invited; all else is of whoever does the step. Null when nothing is left, and where several stages failed, for then the portal may choose.
    /// </summary>
    public Guid? TurnOf(Guid buildShop, Guid shop)
    {
        var current = steps.FirstOrDefault(step => !IsFinished(step.Id) || !IsOpen(step));
        switch (FailedStages())
        {
            case var _ when Over:
                return null;
            case [var stage]:
                var decided = _acts.OfType<Decided>().LastOrDefault(act => act.Stage == stage)?.At ?? -1;
                var since = _acts.OfType<Reported>().Where(act => act.Stage == stage && act.Values.Values.Contains(Found.Bad)).Select(act => act.At).DefaultIfEmpty(-1).Max();
                return decided < since ? buildShop
                    : (steps.LastOrDefault(step => step.Stage == stage && IsStarted(step.Id)) ?? steps.FirstOrDefault(step => step.Stage == stage))?.Organisation
                    ?? ((current ?? steps[^1]).Organisation == buildShop ? buildShop : shop);
            case [_, ..]:
                return null;
        }
        return current is null ? null
            : IsFinished(current.Id) && (current.OpensBy == "person" || current.Gate == "witness" && _acts.OfType<Invited>().Any(act => act.Step == current.Id)) ? buildShop
            : current.Organisation;
    }

    /// <summary>What went on is past its gate, whatever was found since; a nonconformance stops it then.</summary>
    public bool IsOpen(WalkStep step)
    {
        if (step.Gate == "none" || steps.Any(later => later.Ordinal > step.Ordinal && IsStarted(later.Id)))
            return true;
        // The word of a person stays; so does the time that is over.
        if (_acts.Any(act => act is Released released && released.Step == step.Id || act is NoticeOver over && over.Step == step.Id))
            return true;
        if (step.Stage is not { } stage)
            return false;
        // A concession opens it for what had been found. A later report that shows less than it should shuts it again.
        var conceded = _acts.OfType<Conceded>().LastOrDefault(act => act.Stage == stage && act.Reached.Contains(step.Id));
        if (conceded is not null && !_acts.OfType<Reported>().Any(act => act.At > conceded.At && act.Stage == stage && Verdict(stage, act.At) != "conforms"))
            return true;
        return step is { Gate: "hold", OpensBy: "report" }
            && _acts.OfType<Reported>().Any(act => act.Stage == stage && act.Reached.Contains(step.Id))
            && Verdict(stage, int.MaxValue) == "conforms";
    }

    /// <summary>Stages with an open nonconformance: a value failed that nobody conceded, and no report since shows that nothing of it fails any more.</summary>
    public IReadOnlyList<string> FailedStages()
    {
        var open = new HashSet<string>();
        foreach (var act in _acts)
        {
            switch (act)
            {
                case Reported report when Standing(report.Stage, report.At).Any(value => value.Value is { Found: Found.Bad, Conceded: false }):
                    open.Add(report.Stage);
                    break;
                case Reported report when Standing(report.Stage, report.At)
                    .All(value => value.Value is { Conceded: true } or { Found: Found.Good } || !EverFailed(report.Stage, value.Key, report.At)):
                    open.Remove(report.Stage);
                    break;
                case Conceded conceded:
                    open.Remove(conceded.Stage);
                    break;
            }
        }
        return [.. open.Order()];
    }

    /// <summary>Everything asked at the stage, the newest value of each, without what was conceded.</summary>
    public string Verdict(string stage, int at)
    {
        var standing = Standing(stage, at);
        if (standing.Values.Any(value => value is { Found: Found.Bad, Conceded: false }))
            return "does not conform";
        if (!_acts.OfType<Conceded>().Any(act => act.Stage == stage && act.At <= at)
            && asked.Any(one => one.Stages.Contains(stage) && !excused(one.Class, at) && Enumerable.Range(1, one.Count).Any(instance => !standing.ContainsKey((one.Id, instance)))))
            return "incomplete";
        return standing.Values.Any(value => value is { Found: Found.Unproven, Conceded: false }) ? "not proven" : "conforms";
    }

    /// <summary>A class of which a value failed at any time.</summary>
    public bool EverFailed(string characteristicClass) =>
        _acts.OfType<Reported>().Any(act => act.Values.Any(value => value.Value == Found.Bad && asked.Any(one => one.Id == value.Key.Item1 && one.Class == characteristicClass)));

    private bool EverFailed(string stage, (Guid, int) key, int at) =>
        _acts.OfType<Reported>().Any(act => act.Stage == stage && act.At <= at && act.Values.TryGetValue(key, out var found) && found == Found.Bad);

    private Dictionary<(Guid, int), (Found Found, bool Conceded)> Standing(string stage, int at)
    {
        var conceded = _acts.OfType<Conceded>().Where(act => act.Stage == stage && act.At <= at).Select(act => act.At).DefaultIfEmpty(-1).Max();
        var standing = new Dictionary<(Guid, int), (Found, bool)>();
        foreach (var report in _acts.OfType<Reported>().Where(act => act.Stage == stage && act.At <= at))
        {
            foreach (var (key, found) in report.Values)
                standing[key] = (found, report.At <= conceded);
        }
        return standing;
    }

    /// <summary>Steps that have begun, and those that only look at a piece which has come to them: what is measured now is of what they are given.</summary>
    private HashSet<Guid> Reached() =>
    [
        .. steps.Where(step => IsStarted(step.Id)
            || step.OnlyLooks && steps.Where(before => before.Ordinal < step.Ordinal).All(before => IsFinished(before.Id) && IsOpen(before))).Select(step => step.Id),
    ];
}
