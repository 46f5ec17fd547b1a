namespace FabLink.Portal.Features.Pieces;

/// <summary>Where one step of the route of one piece stands. The only place where this is decided; pages and the board ask here.</summary>
public enum StepState
{
    Planned,
    InWork,

    /// <summary>Started by an organisation that is neither the build shop nor the shop of the work order.</summary>
    AtOutsideProcess,

    /// <summary>Finished, and a hold point stops the route until it is released.</summary>
    Held,

    /// <summary>Finished, and a witness point stops the route until the witness came or the notice time is over.</summary>
    WaitingForWitness,

    /// <summary>Finished, and the route goes on.</summary>
    Finished,
}

/// <summary>What is known of one step of one piece: the plan (kind, who, gate) and what was said of it (times).</summary>
/// <param name="Outside">The organisation that does it is neither the build shop nor the shop of the work order.</param>
/// <param name="OpensBy"><c>report</c> or <c>person</c> for a hold, null otherwise.</param>
public sealed record StepFacts(
    Guid Id,
    Guid PieceId,
    int Ordinal,
    string Kind,
    Guid OrganisationId,
    string? OrganisationName,
    bool Outside,
    string? Stage,
    string Gate,
    string? OpensBy,
    int? NoticeHours,
    int PlannedDays,
    DateTimeOffset? StartedAt,
    DateTimeOffset? FinishedAt,
    DateTimeOffset? AskedAt,
    DateTimeOffset? OpenedAt,
    string? OpenedHow)
{
    public StepState State =>
        StartedAt is null ? StepState.Planned
        : FinishedAt is null ? (Outside ? StepState.AtOutsideProcess : StepState.InWork)
        : OpenedAt is not null ? StepState.Finished
        : Gate switch
        {
            "hold" => StepState.Held,
            "witness" => StepState.WaitingForWitness,
            _ => StepState.Finished,
        };

    /// <summary>Its hold is opened by a report, and by none from before it began. A step that only looks at the piece may be measured before it is started.</summary>
    public bool OpensByNewReport => this is { Gate: "hold", OpensBy: "report", OpenedAt: null } and not { Kind: "inspect" or "receive" };

    /// <summary>When an invited witness no longer holds the route up; null when nobody was invited.</summary>
    public DateTimeOffset? NoticeOverAt => Gate == "witness" && AskedAt is { } asked ? asked.AddHours(NoticeHours ?? 0) : null;
}

/// <summary>The words for a state; short enough for a cell of the board.</summary>
public static class StepStateWords
{
    public static string Word(this StepState state) => state switch
    {
        StepState.Planned => "planned",
        StepState.InWork => "in work",
        StepState.AtOutsideProcess => "at an outside process",
        StepState.Held => "held",
        StepState.WaitingForWitness => "waiting for witness",
        _ => "done",
    };
}
