using FabLink.Portal.Platform.People;

namespace FabLink.Portal.Features.Pieces;

/// <summary>The route of one piece as it stands: where the piece is, what stops it, and whose turn it is.</summary>
/// <param name="Steps">In the order of the route; at least one.</param>
/// <param name="OpenNonconformance">The number of an open nonconformance of the piece, or null.</param>
/// <param name="HeldByJoint">The name of a joint that does not bolt up and holds the piece, or null.</param>
/// <param name="Decided">What was decided of the open nonconformance; null while it is not.</param>
/// <param name="FailedStage">At which stage the open nonconformance was found.</param>
/// <param name="Ended"><c>scrap</c>, <c>remake</c> (another piece takes its place) or <c>cancelled</c> or <c>closed</c> (its order): nothing more is done with it. Else null.</param>
/// <param name="Why">Of a cancelled or declined order.</param>
/// <param name="LookedAt">A report came whose joints the job has not looked at yet: for a moment nothing starts.</param>
/// <param name="OrderStop">What keeps its whole order from moving, or null.</param>
public sealed record PieceRoute(
    IReadOnlyList<StepFacts> Steps,
    string? OpenNonconformance,
    string? HeldByJoint = null,
    string? Decided = null,
    string? FailedStage = null,
    string? Ended = null,
    string? Why = null,
    bool LookedAt = false,
    OrderStop? OrderStop = null)
{
    /// <summary>Stages that the piece went past although what the drawing asks there is not shown to conform, and nobody answered for it. In the order of the route.</summary>
    public IReadOnlyList<string> NotShown { get; init; } = [];

    /// <summary>Behind "it is"; null when nothing is open.</summary>
    public string? NotShownWords => NotShown.Count == 0 ? null : $"not shown to conform at {StagesNotShown("and")}";

    public string StagesNotShown(string last) => NotShown.Count < 2 ? string.Concat(NotShown) : $"{string.Join(", ", NotShown.SkipLast(1))} {last} {NotShown[^1]}";

    public bool IsOver => Ended is not null;

    /// <summary>Behind "it is".</summary>
    public static string OverWords(string ended) => ended switch { "scrap" => "scrapped", "remake" => "made anew", "closed" => "on a closed order", _ => "cancelled" };

    /// <summary>
    /// The first step that does not let the piece go on, or null when the route is done. What fails when the last step is finished is not through: the last step has it.
    /// </summary>
    public StepFacts? Current => Steps.FirstOrDefault(step => step.State != StepState.Finished) ?? (OpenNonconformance is null ? null : Steps[^1]);

    public bool Done => Current is null;

    /// <summary>How far it is, to compare pieces of one line: the step, what of it is done, and whether nothing stops it there.</summary>
    public (int Ordinal, bool Started, bool Finished, bool Free) Progress =>
        Current is { } step ? (step.Ordinal, step.StartedAt is not null, step.FinishedAt is not null, Stop is null) : (int.MaxValue, true, true, true);

    /// <summary>The step whose organisation makes good what failed: the one that is measured at that stage; null when none is.</summary>
    private StepFacts? Maker => FailedStage is null ? null
        : Steps.LastOrDefault(step => step.Stage == FailedStage && step.StartedAt is not null) ?? Steps.FirstOrDefault(step => step.Stage == FailedStage);

    /// <summary>Why <see cref="Current"/> cannot start or the piece cannot go on; null when nothing but work is missing.</summary>
    public PieceStop? Stop => Current switch
    {
        null or { State: StepState.InWork or StepState.AtOutsideProcess } => null,
        _ when OpenNonconformance is not null => PieceStop.Nonconformance,
        { State: var state } when LookedAt && (state == StepState.Planned || HeldByJoint is not null) => PieceStop.LookedAt,
        _ when HeldByJoint is not null => PieceStop.Joint,
        { State: StepState.WaitingForWitness } => PieceStop.Witness,
        { State: StepState.Held, OpensBy: "report" } => PieceStop.ConformingReport,
        { State: StepState.Held } => PieceStop.NamedRelease,
        _ => null,
    };

    /// <summary>The hold of this stage opens by a person's word; a conforming report alone does not open it.</summary>
    public bool IsReleasedByPerson(string? stage) => Steps.Any(step => step is { Gate: "hold", OpensBy: "person", OpenedAt: null } && step.Stage == stage);

    /// <summary>May the actor measure it at this stage?</summary>
    public bool MayMeasure(Actor actor, Relation relation, string? stage) =>
        stage is not null && actor.May(Deed.SubmitReport, relation)
        && Reports.Stages.MeasuredBy(relation, actor.OrganisationId, [.. Steps.Where(step => step.Stage == stage).Select(step => step.OrganisationId)]);

    /// <summary>May this step of the piece be started now? Mirrors the database, which has the last word.</summary>
    public bool MayStart(StepFacts step) => Current == step && step.State == StepState.Planned && OpenNonconformance is null && HeldByJoint is null && !LookedAt;

    /// <summary>
    /// Is the piece stopped at this step by something that is not its own gate: what failed, or a joint? A step in work is not: it may be ended.
    /// </summary>
    public bool StopsAt(StepFacts step) => (OpenNonconformance ?? HeldByJoint) is not null && !IsOver && ReferenceEquals(Current, step) && Stop is PieceStop.Nonconformance or PieceStop.Joint;

    /// <summary>The organisation that must do something next; null when the route is done. The only place where this is decided.</summary>
    /// <param name="buildShopId">Whoever releases holds, witnesses once invited, and judges nonconformances.</param>
    /// <param name="shopId">Whoever accepts the order; a process shop does not know.</param>
    public Guid? TurnOf(Guid buildShopId, Guid? shopId = null) => (Current, Stop) switch
    {
        (null, _) => null,
        _ when IsOver => null,
        _ when OrderStop == Pieces.OrderStop.Declined => buildShopId,
        // Whoever made it makes it conform. Until that is decided the build shop has it, also while the step in work may be ended.
        _ when OpenNonconformance is not null => Decided is null ? buildShopId : MakerOf(buildShopId, shopId),
        ({ } current, _) when OrderStop == Pieces.OrderStop.NotAccepted => shopId ?? current.OrganisationId,
        (_, PieceStop.NamedRelease) or ({ AskedAt: not null }, PieceStop.Witness) => buildShopId,
        ({ } current, _) => current.OrganisationId,
    };

    /// <summary>Where no step has the stage: whoever has the piece, if it is theirs to measure there, else the shop of the order.</summary>
    private Guid MakerOf(Guid buildShopId, Guid? shopId) =>
        Maker?.OrganisationId ?? (Current!.OrganisationId == buildShopId ? buildShopId : shopId ?? Current.OrganisationId);

    /// <summary>The same with its name.</summary>
    public Whose? TurnOf(Whose buildShop, Whose? shop) => TurnOf(buildShop.Id, shop?.Id) is not { } turn ? null
        : turn == buildShop.Id ? buildShop
        : turn == shop?.Id ? shop
        : new(turn, Steps.First(step => step.OrganisationId == turn).OrganisationName ?? "another shop");

    /// <summary>A report that conforms lets it go on: at its hold, or after what failed is made good.</summary>
    public bool WaitsForReport => !IsOver && (Stop == PieceStop.ConformingReport || OpenNonconformance is not null && Decided is "rework" or "repair");
}

/// <summary>An organisation whose turn it can be.</summary>
public sealed record Whose(Guid Id, string Name);

/// <summary>What keeps a whole order from moving.</summary>
public enum OrderStop
{
    NotAccepted,
    Declined,
}

/// <summary>What a piece waits for that is not work.</summary>
public enum PieceStop
{
    ConformingReport,
    NamedRelease,
    Witness,
    Nonconformance,

    /// <summary>A joint of the piece does not bolt up.</summary>
    Joint,

    /// <summary>A joint of the piece is just being looked at.</summary>
    LookedAt,
}
