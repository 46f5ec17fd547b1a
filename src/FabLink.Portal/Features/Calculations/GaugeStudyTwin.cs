using System.Text.Json.Serialization;
using FabLink.Engineering;
using FabLink.Engineering.Gauging;

namespace FabLink.Portal.Features.Calculations;

/// <summary>One reading of a study; trials only tell the readings of a cell apart.</summary>
public sealed record GaugeReadingQuestion
{
    [JsonConverter(typeof(TextOrNumber))]
    public string? Part { get; init; }

    [JsonConverter(typeof(TextOrNumber))]
    public string? Person { get; init; }

    public int? Trial { get; init; }

    public decimal? Value { get; init; }
}

/// <summary>Readings in any unit; method anova or average-and-range; tolerance is the width of the tolerance in that unit.</summary>
public sealed record GaugeStudyQuestion(IReadOnlyList<GaugeReadingQuestion?>? Measurements, string? Method, decimal? Tolerance);

/// <summary>Standard deviations in the unit of the readings. Of the analysis of variance pooled says whether the interaction was pooled.</summary>
public sealed record GaugeStudyReply(
    string Method, decimal Repeatability, decimal Reproducibility, decimal GaugeStudy, decimal PartVariation, decimal TotalVariation,
    decimal PercentOfTotal, decimal? PercentOfTolerance, int? DistinctCategories, bool? Pooled, IReadOnlyList<AnovaRowReply>? Anova,
    IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

/// <summary>One row of the analysis of variance.</summary>
public sealed record AnovaRowReply(string Name, int Degrees, decimal SumOfSquares, decimal MeanSquare, decimal? F);

internal static class GaugeStudyTwin
{
    public const int MostReadings = 10_000;

    public static GaugeStudyReply Study(GaugeStudyQuestion question)
    {
        var answer = GaugeStudies.Calculate(Readings(question), GaugeStudies.ParseMethod(Words.Needed(question.Method, "method")), question.Tolerance);
        var spread = answer.Spread;
        return new(
            question.Method!, spread.Repeatability, spread.Reproducibility, spread.GaugeStudy, spread.PartVariation, spread.TotalVariation,
            spread.PercentOfTotal, answer.PercentOfTolerance, spread.DistinctCategories, answer.Anova?.IsPooled,
            answer.Anova is { } anova ? [.. Rows(anova)] : null, answer.Sources, answer.Cautions);
    }

    private static IEnumerable<AnovaRowReply> Rows(Anova anova) =>
        from row in (AnovaRow[])[anova.Persons, anova.Parts, anova.Interaction, anova.Equipment, anova.Total]
        select new AnovaRowReply(row.Name, row.Degrees, row.SumOfSquares, row.MeanSquare, row.F);

    private static List<GaugeMeasurement> Readings(GaugeStudyQuestion question)
    {
        var rows = Words.Needed(question.Measurements, "measurements");
        if (rows.Count > MostReadings)
            throw new InputError("measurements", $"A study has at most {MostReadings} readings, not {rows.Count}.");
        var readings = new List<GaugeMeasurement>(rows.Count);
        for (var i = 0; i < rows.Count; i++)
        {
            try
            {
                var row = rows[i] ?? throw new InputError("", $"Row {i + 1} is null.");
                readings.Add(new GaugeMeasurement(
                    Words.Needed(row.Part, "part"), Words.Needed(row.Person, "person"), Words.Needed(row.Trial, "trial"), Words.Needed(row.Value, "value")));
            }
            catch (InputError missing)
            {
                throw missing.Within($"measurements/{i}");
            }
        }

        return readings;
    }
}
