using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Drawings;

namespace FabLink.Portal.Features.Reports;

/// <summary>A requirement as it was when the revision was released: the limits that everybody has seen since, however it would be read today.</summary>
public sealed record ReleasedRequirement(Characteristic Row) : Requirement
{
    public override Limits Limits { get; } = Row.Limits;

    public override decimal? Nominal => Row.Nominal;

    public override bool IsMeasured => Row.IsMeasured;

    protected override string Body => Row.Requirement;

    public static RequiredCharacteristic Of(Characteristic row) =>
        new($"{row.Balloon}", new ReleasedRequirement(row) { Count = row.Count, Unit = row.UnitOf }, Enum.Parse<Importance>(row.Class, ignoreCase: true))
        {
            Rule = Enum.Parse<JudgingRule>(row.Rule, ignoreCase: true),
            Terms = row.Rounding == "rounding" && StepOf(row) is { } step ? JudgingTerms.Default with { RoundTo = step } : JudgingTerms.Default,
            Size = row.SizeBalloon is { } size
                ? new SizeReference(size, row.SizeOf == "hole", row.Modifier == "M" ? MaterialCondition.Maximum : MaterialCondition.Least)
                : null,
        };

    /// <summary>The last place of the limits in the unit of the drawing, in base units (ASTM E29, rounding method).</summary>
    private static decimal? StepOf(Characteristic row)
    {
        var unit = row.UnitOf;
        if ((row.UpperLimit ?? row.LowerLimit) is not { } limit || Units.IsAngle(unit))
            return null;
        var places = Math.Max(Places(row.LowerLimit ?? limit), Places(row.UpperLimit ?? limit));
        return Units.ToBase(new decimal(1, 0, 0, false, places), unit);

        byte Places(decimal value) => (Units.FromBase(value, unit) / 1.000000000000000000000000000000m).Scale;
    }
}
