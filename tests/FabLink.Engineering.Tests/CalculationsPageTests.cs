using System.Globalization;
using FabLink.Engineering.Gauging;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Sampling;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests;

/// <summary>Runs the worked examples of docs/calculations/limits-judging-sampling.md as they stand there.</summary>
public class CalculationsPageTests
{
    [Fact]
    public void Every_worked_example_on_the_page_is_what_the_library_answers()
    {
        var examples = Examples().ToList();

        Assert.True(examples.Count > 40, $"only {examples.Count} examples were found");
        Assert.All(examples, example => Assert.Equal(example.Expected, Answer(example.Asked)));
    }

    private static IEnumerable<(string Asked, string Expected)> Examples()
    {
        var inside = false;
        foreach (var line in File.ReadLines(Path.Combine(Root(), "docs", "calculations", "limits-judging-sampling.md")))
        {
            if (line.StartsWith("```", StringComparison.Ordinal))
                inside = line == "```example";
            else if (inside)
                yield return line.Split(" => ") is [var asked, var expected] ? (asked, expected) : (line, "refused");
        }
    }

    private static string Answer(string asked)
    {
        var name = asked.Split(' ')[0];
        var rest = asked[(name.Length + 1)..];
        var words = rest.Split(' ');
        return name switch
        {
            "convert" => Text(Units.FromBase(ValueText.Parse(words[0], UnitOf(words.Length == 3 ? words[1] : "dms"), "value"), UnitOf(words[^1]))),
            "refuse" => NumberText.TryParse(rest, out _) ? "understood" : "refused",
            "requirement" => LimitsOf(rest),
            "general-tolerance" => Text(GeneralTolerances.Find(string.Join(' ', words[..^3]), words[^3], words[^2], Number(words[^1])).Deviation),
            "fit" => FitOf(rest),
            "clearance-hole" => Text(ClearanceHoles.Find(words[0], Enum.Parse<HoleSeries>(words[1], ignoreCase: true)).Hole),
            "floating" => Text(Fasteners.FloatingTolerance(Number(words[0]), Number(words[1]))),
            "fixed" => Text(words.Length == 2 ? Fasteners.FixedTolerance(Number(words[0]), Number(words[1])) : Fasteners.FixedTolerance(Number(words[0]), Number(words[1]), Number(words[2]))),
            "judge" => Judged(rest.Split(" | ")),
            "probability" => Text(Conformance.Probability(new Limits(Number(words[0]), Number(words[1])), Number(words[2]), Number(words[3])), 4),
            "round" => Text(Rounding.ToStep(Number(words[0]), Number(words[1]))),
            "position" => Text(decimal.Round(Position.Judge(new PositionQuestion([0, 0], [Number(words[0]), Number(words[1])], Number(words[2]))).Position, 4)),
            "bonus" => Text(Feature(words).Bonus(MaterialCondition.Maximum, Number(words[4]))),
            "virtual" => Text(Feature(words).VirtualCondition(MaterialCondition.Maximum, Number(words[4]))!.Value),
            "uncertainty" => Text(Instrument.Default("it", Enum.Parse<InstrumentKind>(words[0])).ExpandedUncertaintyAt(Number(words[1]))!.Value),
            "gauge-ratio" => RatioOf(words),
            "temperature" => Text(Temperature.To20(Number(words[0]), Number(words[1]), Number(words[2])).At20),
            "gauge-study" => StudyOf(rest),
            "sampling-plan" => PlanOf(SamplingPlans.Find(Whole(words[0]), words[1], Number(words[2]))),
            "operating-curve" => Text(CurveOf(words), 6),
            "zero-acceptance" => Text(ZeroAcceptance.Find(Whole(words[0]), (double)Number(words[1]), (double)Number(words[2])).SampleSize),
            _ => throw new InvalidOperationException($"The page has an example of an unknown kind: {asked}"),
        };
    }

    private static string LimitsOf(string text)
    {
        var requirement = Requirement.Parse(text, Unit.Millimetre, null);
        return $"{Side(requirement.Limits.Lower)} to {Side(requirement.Limits.Upper)}";

        string Side(decimal? limit) => limit is not { } value ? "open" : Text(Units.IsAngle(requirement.Unit) ? value / 3600 : value);
    }

    private static string FitOf(string text)
    {
        var fit = Fits.Calculate(text);
        return string.Join(' ', new[] { fit.Hole!.Value.Lower, fit.Hole.Value.Upper, fit.Shaft!.Value.Lower, fit.Shaft.Value.Upper, fit.MinimumClearance, fit.MaximumClearance }
            .Select(v => Text(v!.Value)));
    }

    private static string Judged(string[] parts)
    {
        var measured = parts[1].Split(" U ");
        var question = new JudgeQuestion(parts[0], Unit.Millimetre, measured[0], Unit.Millimetre)
        {
            ExpandedUncertainty = measured.Length > 1 ? measured[1] : null,
            Rule = Enum.Parse<JudgingRule>(parts[2], ignoreCase: true),
        };
        return Judgements.Judge(question).Verdict.ToString();
    }

    private static FeatureOfSize Feature(string[] words) => new(Number(words[1]), Number(words[2]), words[0] == "hole");

    private static string RatioOf(string[] words)
    {
        var instrument = Instrument.Default("it", Enum.Parse<InstrumentKind>(words[0]));
        var limits = new Limits(0, Number(words[2]));
        return Text(GaugeCheck.Assess(instrument, limits, Number(words[1]), Importance.Minor, new DateOnly(2026, 1, 1)).Ratio!.Value);
    }

    private static string StudyOf(string method)
    {
        var readings = PublishedFile.Rows("aiag-msa-figure-iii-b-15.csv").SelectMany(row => row.Skip(2).Select((value, part) => new GaugeMeasurement($"{part + 1}", row[0], Whole(row[1]), Number(value))));
        var spread = GaugeStudies.Calculate([.. readings], GaugeStudies.ParseMethod(method)).Spread;
        return string.Create(
            CultureInfo.InvariantCulture,
            $"EV {spread.Repeatability:0.00000} AV {spread.Reproducibility:0.00000} GRR {spread.GaugeStudy:0.00000} {spread.PercentOfTotal:0.00} % ndc {spread.DistinctCategories}");
    }

    private static string PlanOf(SamplingPlan plan) => $"{plan.CodeLetter} {plan.SampleSize} {plan.Accept} {plan.Reject}";

    private static double CurveOf(string[] words)
    {
        var question = words[0] == "lot"
            ? new OperatingCurveQuestion(Whole(words[3]), Whole(words[4])) { Lot = Whole(words[1]), Nonconforming = Whole(words[2]) }
            : new OperatingCurveQuestion(Whole(words[2]), Whole(words[3])) { Fraction = (double)Number(words[1]) };
        return OperatingCurve.Calculate(question).AcceptanceProbability;
    }

    private static Unit UnitOf(string text) => Units.TryParse(text, out var unit) ? unit : throw new InvalidOperationException($"{text} is not a unit.");

    private static decimal Number(string text) => decimal.Parse(text, CultureInfo.InvariantCulture);

    private static int Whole(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    private static string Text(decimal value) => value.ToString("0.############################", CultureInfo.InvariantCulture);

    private static string Text(double value, int places) => Math.Round(value, places).ToString(CultureInfo.InvariantCulture);

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "FabLink.sln")))
            folder = folder.Parent;
        return folder?.FullName ?? throw new InvalidOperationException("The repository's root was not found.");
    }
}
