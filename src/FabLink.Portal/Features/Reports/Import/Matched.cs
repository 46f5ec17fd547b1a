using FabLink.Engineering.Quantities;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>What of a file could be taken over, what is missing and what a person should look at.</summary>
/// <param name="Values">By piece, then in the order of the file.</param>
/// <param name="Missing">What this stage asks for and neither the file has: only of pieces that have a value in it.</param>
/// <param name="Untouched">Pieces without a value in the file.</param>
/// <param name="Problems">Of the file and of the matching, in the order of the rows.</param>
public sealed record Matched(
    IReadOnlyList<MatchedValue> Values,
    IReadOnlyList<MissingValue> Missing,
    IReadOnlyList<ExpectedPiece> Untouched,
    IReadOnlyList<TableProblem> Problems)
{
    /// <summary>Nothing is refused and there is something to submit; warnings do not hinder.</summary>
    public bool MaySubmit => Values.Count > 0 && !Problems.Any(problem => problem.Severity == Severity.Refuse);
}

/// <param name="Piece">The piece it was measured on.</param>
/// <param name="Characteristic">What was measured.</param>
/// <param name="Instance">From 1 to the characteristic's count.</param>
/// <param name="Value">In millimetres, arc-seconds or plain; 1 go and 0 no go; null for words.</param>
/// <param name="Unit">As typed, or the characteristic's when nothing was.</param>
/// <param name="ExpandedUncertainty">As <paramref name="Value"/>; null when the file has none.</param>
/// <param name="Source">The row it came from, with the text as typed.</param>
public sealed record MatchedValue(
    ExpectedPiece Piece, ExpectedCharacteristic Characteristic, int Instance, decimal? Value, Unit Unit, decimal? ExpandedUncertainty, MeasurementRow Source);

public sealed record MissingValue(ExpectedPiece Piece, ExpectedCharacteristic Characteristic, int Instance)
{
    public string BalloonText => Characteristic.Count > 1 ? $"{Characteristic.Balloon}.{Instance}" : $"{Characteristic.Balloon}";
}
