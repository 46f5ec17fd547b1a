namespace FabLink.Engineering.Gauging;

public enum GaugeStudyMethod
{
    Anova,
    AverageAndRange,
}

/// <summary>One reading of a study.</summary>
public sealed record GaugeMeasurement(string Part, string Person, int Trial, decimal Value);

/// <summary>How far the gauge, its people and the parts spread, as standard deviations in the unit of the readings.</summary>
/// <param name="Repeatability">One person on one part.</param>
/// <param name="Reproducibility">Between persons (with their interaction with the parts, where that is not pooled).</param>
/// <param name="GaugeStudy">Both together.</param>
/// <param name="PartVariation">Between parts.</param>
/// <param name="TotalVariation">All together.</param>
public sealed record GaugeSpread(
    decimal Repeatability,
    decimal Reproducibility,
    decimal GaugeStudy,
    decimal PartVariation,
    decimal TotalVariation)
{
    /// <summary>GRR in percent of the total variation.</summary>
    public decimal PercentOfTotal => Percent(GaugeStudy);

    /// <summary>1.41 · PV / GRR before it is cut off to a whole number; null when the gauge does not spread at all.</summary>
    public decimal? DistinctCategoriesUncut => GaugeStudy == 0 ? null : 1.41m * PartVariation / GaugeStudy;

    /// <summary>How many groups of parts the gauge can tell apart; 5 are wanted.</summary>
    public int? DistinctCategories => DistinctCategoriesUncut is { } categories
        ? Math.Max(1, (int)Math.Min(decimal.Truncate(categories), int.MaxValue))
        : null;

    public decimal Percent(decimal part) => TotalVariation == 0 ? 0 : 100 * part / TotalVariation;

    internal static GaugeSpread Of(decimal repeatability, decimal reproducibility, decimal parts)
    {
        var gauge = DecimalMath.SquareRoot(repeatability * repeatability + reproducibility * reproducibility);
        return new GaugeSpread(repeatability, reproducibility, gauge, parts, DecimalMath.SquareRoot(gauge * gauge + parts * parts));
    }
}

/// <param name="Method">Which of the two; they give different answers on the same data and are never mixed.</param>
/// <param name="Spread">The result of that method.</param>
/// <param name="PercentOfTolerance">6 · GRR in percent of the tolerance; null without a tolerance.</param>
/// <param name="AverageAndRange">The working, when that was the method.</param>
/// <param name="Anova">The working, when that was the method: pooled and unpooled.</param>
/// <param name="Sources">Handbook, edition, chapter.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record GaugeStudyAnswer(
    GaugeStudyMethod Method,
    GaugeSpread Spread,
    decimal? PercentOfTolerance,
    AverageAndRange? AverageAndRange,
    Anova? Anova,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>A gauge study: parts × persons × trials, every cell filled alike.</summary>
public static class GaugeStudies
{
    public const string Source = "AIAG Measurement Systems Analysis, 4th edition (2010), chapter III section B";

    /// <param name="measurements">Every part measured by every person equally often, at least two each; trials only tell them apart.</param>
    /// <param name="method">Analysis of variance, or average and range (2 or 3 persons, 2 or 3 trials, up to 10 parts).</param>
    /// <param name="tolerance">Width of the tolerance in the unit of the readings; null when it does not matter.</param>
    /// <exception cref="InputError">A reading twice, a cell that is short, too few of anything; the row is named.</exception>
    public static GaugeStudyAnswer Calculate(IReadOnlyList<GaugeMeasurement> measurements, GaugeStudyMethod method, decimal? tolerance = null)
    {
        if (tolerance <= 0)
            throw new InputError("tolerance", $"The tolerance must be greater than zero, not {tolerance}.");
        var table = GaugeTable.From(measurements);
        try
        {
            return Calculate(table, method, tolerance);
        }
        catch (OverflowException)
        {
            throw new InputError("measurements", "These readings differ by so many powers of ten that no study can be made of them.");
        }
    }

    /// <exception cref="InputError">Not a method.</exception>
    public static GaugeStudyMethod ParseMethod(string? text) => text switch
    {
        "anova" => GaugeStudyMethod.Anova,
        "average-and-range" => GaugeStudyMethod.AverageAndRange,
        _ => throw new InputError("method", $"“{text}” is none of anova, average-and-range."),
    };

    private static GaugeStudyAnswer Calculate(GaugeTable table, GaugeStudyMethod method, decimal? tolerance)
    {
        var byRange = method == GaugeStudyMethod.AverageAndRange ? AverageAndRange.Of(table) : null;
        var anova = method == GaugeStudyMethod.Anova ? Anova.Of(table) : null;
        var spread = byRange?.Spread ?? anova!.Spread;
        return new GaugeStudyAnswer(
            method,
            spread,
            tolerance is { } width ? 600 * spread.GaugeStudy / width : null,
            byRange,
            anova,
            [Source + (byRange is null ? ", analysis of variance" : ", average and range")],
            CautionsFor(spread, byRange, anova, table));
    }

    private static List<string> CautionsFor(GaugeSpread spread, AverageAndRange? byRange, Anova? anova, GaugeTable table)
    {
        var cautions = new List<string>
        {
            spread.PercentOfTotal switch
            {
                < 10 => "Below 10 % of the total variation: usually taken as good enough (common practice).",
                <= 30 => "Between 10 and 30 % of the total variation: may do, depending on what hangs on it (common practice).",
                _ => "Above 30 % of the total variation: usually not good enough (common practice).",
            },
        };
        if (spread.DistinctCategories < 5)
            cautions.Add("Fewer than 5 distinct categories: the gauge hardly tells these parts apart.");
        if (byRange?.OutOfControl.Count > 0)
            cautions.Add($"Ranges above their control limit {byRange.UpperRangeLimit:0.####}: {string.Join("; ", byRange.OutOfControl)}. Look for the cause before using the result.");
        if (anova is { IsPooled: false })
            cautions.Add("Persons and parts interact: some persons measure some parts differently.");
        if (table.Parts.Count < 5)
            cautions.Add("Fewer than 5 parts say little about the variation between parts.");
        return cautions;
    }
}
