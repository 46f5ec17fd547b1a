using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>How a characteristic is answered.</summary>
public enum AnswerForm
{
    Number,
    GoNoGo,

    /// <summary>A note of the drawing: it is done, or it is not.</summary>
    YesOrNo,
}

/// <summary>One characteristic of the revision that the pieces are made to.</summary>
/// <param name="Id">Of the characteristic.</param>
/// <param name="Balloon">Its number on the drawing.</param>
/// <param name="Count">How many instances: 12.1 to 12.10 are ten.</param>
/// <param name="Unit">The requirement's unit; a value without one is read in it.</param>
/// <param name="Requirement">As on the drawing, for messages.</param>
/// <param name="Nominal">In millimetres or arc-seconds.</param>
/// <param name="Limits">In millimetres or arc-seconds.</param>
/// <param name="Required">Is it asked for at this stage?</param>
/// <param name="Form">How it is answered.</param>
/// <param name="NeverNegative">The width of a zone, a film or a diameter.</param>
public sealed record ExpectedCharacteristic(
    Guid Id, int Balloon, int Count, Unit Unit, string Requirement, decimal? Nominal, Limits Limits, bool Required, AnswerForm Form, bool NeverNegative = false);

/// <param name="IsOver">Nothing more is measured on it; it is not offered where another serial was meant.</param>
public sealed record ExpectedPiece(Guid Id, string Serial, bool IsOver = false);

/// <summary>What a file is held against: the pieces of one line at one stage.</summary>
/// <param name="Partial">Whoever sends the file sees some balloons of the drawing only, and learns nothing of the others.</param>
public sealed record Expectation(
    string Part, string Revision, string Stage, IReadOnlyList<ExpectedCharacteristic> Characteristics, IReadOnlyList<ExpectedPiece> Pieces, bool Partial = false);
