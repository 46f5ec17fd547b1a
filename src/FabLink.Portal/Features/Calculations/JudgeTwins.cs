using System.Text.Json.Serialization;
using FabLink.Engineering;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Portal.Features.Calculations;

/// <summary>
/// One value and its requirement as a drawing writes it. Numbers as text, so that they stay exact; numbers are taken too.
/// Units: mm, µm, in, mil, °, dms, rad, none.
/// </summary>
public sealed record JudgeTwinQuestion
{
    public string? Requirement { get; init; }

    /// <summary>Of the requirement's numbers when they carry none; mm unless stated.</summary>
    public string? Unit { get; init; }

    [JsonConverter(typeof(TextOrNumber))]
    public string? Value { get; init; }

    /// <summary>Of the value and U; the requirement's unit unless stated.</summary>
    public string? ValueUnit { get; init; }

    [JsonConverter(typeof(TextOrNumber))]
    public string? ExpandedUncertainty { get; init; }

    /// <summary>simple, guarded or probability.</summary>
    public string? Rule { get; init; }

    /// <summary>For the rule probability; 0.95 unless stated.</summary>
    public double? MinimumProbability { get; init; }

    /// <summary>k in U = k·u; 2 unless stated.</summary>
    public decimal? CoverageFactor { get; init; }

    /// <summary>Edition of ISO 14253-1 whose guard is meant: 2013 (U) or 2017 (1.645·u).</summary>
    public int? GuardEdition { get; init; }

    /// <summary>ASTM E29 rounding step in the requirement's unit; absolute method unless stated.</summary>
    public decimal? RoundTo { get; init; }

    /// <summary>General tolerance of the drawing, such as ISO 2768-m.</summary>
    public string? General { get; init; }
}

/// <summary>Exact numbers as text, in the requirement's unit.</summary>
public sealed record JudgeTwinReply(
    string Verdict, string Requirement, string Unit, string? Lower, string? Upper, string Value, string? Deviation, string? OffBy,
    string? Guard, double? ConformanceProbability, IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

/// <summary>Limits of size and the measured mating envelope, mm; internal is a hole.</summary>
public sealed record SizeQuestion(decimal? Lower, decimal? Upper, decimal? Measured, bool? Internal);

/// <summary>Coordinates and diametral tolerance in mm; modifier M, L or none.</summary>
public sealed record PositionTwinQuestion
{
    public IReadOnlyList<decimal>? Nominal { get; init; }

    public IReadOnlyList<decimal>? Measured { get; init; }

    public decimal? Tolerance { get; init; }

    public string? Modifier { get; init; }

    public SizeQuestion? Size { get; init; }

    public decimal? ExpandedUncertainty { get; init; }

    public string? Rule { get; init; }

    public double? MinimumProbability { get; init; }

    public int? GuardEdition { get; init; }
}

/// <summary>Lengths in mm, position and allowed diametral.</summary>
public sealed record PositionReply(
    decimal Position, decimal Allowed, decimal Bonus, string Verdict, decimal? Guard, double? ConformanceProbability,
    decimal? VirtualCondition, IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

internal static class JudgeTwins
{
    public static JudgeTwinReply Judge(JudgeTwinQuestion question)
    {
        var answer = Ask(question);
        return new(
            Words.Of(answer.Verdict), answer.Requirement.ToString(), Units.Symbol(answer.Unit), Words.Exact(answer.Lower), Words.Exact(answer.Upper),
            Words.Exact(answer.Value), Words.Exact(answer.Deviation), Words.Exact(answer.OffBy), Words.Exact(answer.Guard), answer.ConformanceProbability,
            answer.Sources, answer.Cautions);
    }

    /// <summary>The same with the library's own types, for a page that draws it.</summary>
    public static JudgeAnswer Ask(JudgeTwinQuestion question)
    {
        var requirement = Words.Needed(question.Requirement, "requirement");
        var unit = UnitOf(question.Unit, "unit") ?? Unit.Millimetre;
        var general = string.IsNullOrWhiteSpace(question.General) ? null : GeneralTolerance.Parse(question.General);
        var understood = Read(requirement, unit, general);
        var terms = new JudgingTerms
        {
            Guard = Words.Guard(question.GuardEdition),
            CoverageFactor = question.CoverageFactor ?? 2,
            MinimumProbability = question.MinimumProbability ?? 0.95,
            RoundTo = question.RoundTo is { } step ? Units.ToBase(step, understood.Unit) : null,
        };
        return Judgements.Judge(new JudgeQuestion(requirement, unit, Words.Needed(question.Value, "value"), UnitOf(question.ValueUnit, "valueUnit") ?? understood.Unit)
        {
            ExpandedUncertainty = question.ExpandedUncertainty,
            Rule = Words.Rule(question.Rule),
            Terms = terms,
            General = general,
        });
    }

    public static Requirement Read(string requirement, Unit unit, GeneralTolerance? general) =>
        Requirement.TryParse(requirement, unit, general, out var understood, out var refusal) ? understood! : throw refusal!.At("requirement");

    public static Unit? UnitOf(string? text, string field) =>
        string.IsNullOrWhiteSpace(text) ? null
        : Units.TryParse(text, out var unit) ? unit
        : throw new InputError(field, $"“{text}” is none of the units mm, µm, in, mil, °, dms, rad, none.");

    public static PositionReply Position(PositionTwinQuestion question)
    {
        var modifier = question.Modifier switch
        {
            null or "" or "none" => MaterialCondition.None,
            "M" => MaterialCondition.Maximum,
            "L" => MaterialCondition.Least,
            _ => throw new InputError("modifier", $"“{question.Modifier}” is none of M, L, none."),
        };
        var answer = Engineering.Judging.Position.Judge(new PositionQuestion(
            Words.Needed(question.Nominal, "nominal"), Words.Needed(question.Measured, "measured"), Words.Needed(question.Tolerance, "tolerance"))
        {
            Modifier = modifier,
            Size = question.Size is { } size
                ? new FeatureOfSize(Words.Needed(size.Lower, "size/lower"), Words.Needed(size.Upper, "size/upper"), Words.Needed(size.Internal, "size/internal"))
                : null,
            MeasuredSize = question.Size?.Measured,
            ExpandedUncertainty = question.ExpandedUncertainty,
            Rule = Words.Rule(question.Rule),
            Terms = new JudgingTerms { Guard = Words.Guard(question.GuardEdition), MinimumProbability = question.MinimumProbability ?? 0.95 },
        });
        return new(
            answer.Position, answer.Allowed, answer.Bonus, Words.Of(answer.Verdict), answer.Guard, answer.ConformanceProbability, answer.VirtualCondition,
            answer.Sources, answer.Cautions);
    }
}
