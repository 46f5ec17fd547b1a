using System.Text.Json;
using FabLink.Engineering.BoltUp;

namespace FabLink.Portal.Features.Joints;

/// <summary>How findings are kept.</summary>
public static class JointJson
{
    public static JsonSerializerOptions Options { get; } = new(JsonSerializerDefaults.Web);

    public static T Read<T>(string json) =>
        JsonSerializer.Deserialize<T>(json, Options) ?? throw new InvalidOperationException("A finding was kept empty.");
}

/// <summary>What a shop sees of a joint: its own piece, how far its holes are off, and what to change. Lengths in mm.</summary>
public sealed record CorrectionBody(
    string Joint,
    string Unit,
    string Verdict,
    double? Margin,
    double Wanted,
    IReadOnlyList<string> Limiting,
    IReadOnlyList<CorrectionHole> Holes,
    IReadOnlyList<AdviceAnswer> Advice,
    IReadOnlyList<string> Cautions)
{
    /// <inheritdoc cref="JointFinding.AdviceBreaks"/>
    public IReadOnlyList<IReadOnlyList<string>> AdviceBreaks { get; init; } = [];

    /// <inheritdoc cref="JointFinding.AdviceUnproven"/>
    public IReadOnlyList<IReadOnlyList<string>> AdviceUnproven { get; init; } = [];

    /// <inheritdoc cref="JointFinding.Welded"/>
    public bool Welded { get; init; }

    /// <inheritdoc cref="JointFinding.Obstructed"/>
    public IReadOnlyList<string> Obstructed { get; init; } = [];

    /// <summary>What keeps it from bolting up is a hole of the other part that is too small: nothing on this piece helps.</summary>
    public bool IsTheMates => Verdict == "does not bolt up" && Margin >= 0 && Obstructed.Count > 0 && Obstructed.All(OfTheMate)
        && Advice.All(way => way.Move is null && way.Holes.All(hole => OfTheMate(hole.Name)));

    private static bool OfTheMate(string hole) => hole.EndsWith(" of the mate", StringComparison.Ordinal);

    public bool Tight => Verdict == "bolts up" && Margin < Wanted;

    public static CorrectionBody Of(string joint, string unit, JointFinding finding) => new(
        joint,
        unit,
        finding.Verdict,
        finding.Margin,
        finding.Wanted,
        finding.Limiting,
        [.. finding.Holes.Select(hole => new CorrectionHole(hole.Name, hole.Part, hole.Fastener, hole.Allowance, hole.ClearanceLeft, hole.ShiftX, hole.ShiftY, hole.Limiting))],
        finding.Advice,
        finding.Cautions)
    {
        AdviceBreaks = finding.AdviceBreaks,
        AdviceUnproven = finding.AdviceUnproven,
        Welded = finding.Welded,
        Obstructed = finding.Obstructed,
    };
}

/// <summary>One hole of the shop's own piece.</summary>
public sealed record CorrectionHole(string Name, HoleNow Now, double Fastener, double Allowance, double ClearanceLeft, double ShiftX, double ShiftY, bool Limiting);
