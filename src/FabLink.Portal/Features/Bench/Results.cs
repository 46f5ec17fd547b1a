using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Geometry;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Bench;

/// <summary>A fitted feature with the points it was fitted to.</summary>
public sealed record FeatureResult(FeatureRequest Question, FeatureAnswer Answer)
{
    public FormErrorMap Picture => new(Answer, Question.Points!);
}

/// <summary>A joint answered and drawn.</summary>
public sealed record BoltUpResult(BoltUpRequest Question, BoltUpAnswer Answer)
{
    /// <summary>The holes of part a, in mm, with the mate's centres where the best move puts them.</summary>
    public HolePattern Picture
    {
        get
        {
            var joint = BoltUpCalculation.JointOf(Question);
            var unit = Answer.Unit == "in" ? 25.4 : 1;
            var (sin, cos) = double.SinCos(Answer.Move.RotationDegrees * Math.PI / 180);
            return new HolePattern([.. joint.Holes.Select(hole => new HoleMark(
                hole.Name,
                hole.A.X,
                hole.A.Y,
                Math.Max(0, joint.Allowance(hole)),
                cos * hole.B.X - sin * hole.B.Y + Answer.Move.X * unit - hole.A.X,
                sin * hole.B.X + cos * hole.B.Y + Answer.Move.Y * unit - hole.A.Y,
                Answer.Limiting.Contains(hole.Name),
                ((hole.A.Slot ?? hole.B.Slot)?.Travel ?? 0) / 2,
                hole.A.Slot?.AngleDegrees ?? hole.B.Slot?.AngleDegrees + Answer.Move.RotationDegrees ?? 0))]);
        }
    }

    public Mark MarkOf(HoleAnswer hole) =>
        Answer.Obstructed.Contains(hole.Name) || hole.ClearanceLeft < -1e-9 ? Mark.DoesNotConform : Mark.Conforms;
}

/// <summary>A chain or a loop answered and drawn.</summary>
public sealed record ChainResult(
    string Unit, double Nominal, double Expected, string State, IReadOnlyList<(string Name, Bounds Bounds)> Spreads, RequiredLimits? Required, bool? WorstCaseCloses,
    MonteCarloAnswer? MonteCarlo, IReadOnlyList<Contribution> Contributions, IReadOnlyList<LinkRoom> Room, ChainPolygon Picture, Footing Foot)
{
    public static ChainResult Of(ChainRequest question, ChainAnswer answer, string unit) => new(
        unit, answer.Nominal, answer.Expected, answer.State,
        [("worst case", answer.WorstCase), ("root sum square", answer.RootSumSquare), ($"root sum square × {answer.Inflation}", answer.InflatedRootSumSquare)],
        answer.Required, answer.WorstCaseCloses, answer.MonteCarlo, answer.Contributions, answer.Room,
        new ChainPolygon(
            [.. question.Links.Select(link => new ChainVector(link.Name, link.Sensitivity * (link.Measured ?? link.Nominal ?? 0), 0, link.Measured is not null))],
            Spread(answer.Expected, answer.WorstCase, answer.RootSumSquare, answer.Required, answer.WorstCaseCloses, unit)),
        new(answer.Sources, answer.Cautions));

    public static ChainResult Of(VectorLoopRequest question, VectorLoopAnswer answer)
    {
        double[][] joints = answer.Joints[0] is [0, 0] ? [.. answer.Joints] : [[0, 0], .. answer.Joints];
        return new(
            answer.Unit, answer.Nominal, answer.Expected, answer.State,
            [
                ("worst case, to first order", answer.WorstCase), ("worst case, exact corners", answer.WorstCaseCorners), ("worst case, between corners too", answer.WorstCaseInside),
                ("root sum square", answer.RootSumSquare), ($"root sum square × {answer.Inflation}", answer.InflatedRootSumSquare),
            ],
            answer.Required, answer.WorstCaseCloses, answer.MonteCarlo, answer.Contributions, answer.Room,
            new ChainPolygon(
                [.. question.Links.Select((link, i) => new ChainVector(
                    link.Name, joints[i + 1][0] - joints[i][0], joints[i + 1][1] - joints[i][1], link.Length?.Measured is not null))],
                Spread(answer.Expected, answer.WorstCaseInside, answer.RootSumSquare, answer.Required, answer.WorstCaseCloses, answer.Unit)),
            new(answer.Sources, answer.Cautions));
    }

    /// <summary>Worst case inside conforms; where only the expected value is inside it is not proven.</summary>
    public Mark Mark => MarkOf(Required, WorstCaseCloses, Expected);

    private static ChainSpread Spread(double expected, Bounds worst, Bounds likely, RequiredLimits? required, bool? closes, string unit) =>
        new("closing", expected, worst.Lower, worst.Upper, likely.Lower, likely.Upper, required?.Lower, required?.Upper, MarkOf(required, closes, expected), unit);

    private static Mark MarkOf(RequiredLimits? required, bool? closes, double expected) => (required, closes) switch
    {
        (null, _) => Mark.None,
        (_, true) => Mark.Conforms,
        ({ } r, _) when !(expected < r.Lower) && !(expected > r.Upper) => Mark.NotProven,
        _ => Mark.DoesNotConform,
    };
}

/// <summary>A study with the readings it was made of.</summary>
public sealed record GaugeStudyResult(GaugeStudyQuestion Question, GaugeStudyReply Answer)
{
    public GaugePicture Picture => new([.. Question.Measurements!.OfType<GaugeReadingQuestion>()]);
}

/// <summary>Marks and numbers for the views.</summary>
internal static class Shown
{
    public static Mark Of(string verdict) => verdict switch
    {
        "conforms" => Mark.Conforms,
        "does-not-conform" => Mark.DoesNotConform,
        _ => Mark.NotProven,
    };

    public static string Headline(Mark mark) => mark switch
    {
        Mark.Conforms => "It conforms",
        Mark.DoesNotConform => "It does not conform",
        _ => "Not proven",
    };

    public static string Degrees(double? degrees) => degrees is { } known ? Typed.Say(known, 5) + "°" : "";

    /// <summary>An angle that no decimal ends is written in minutes and seconds.</summary>
    public static string WithUnit(decimal? number, Unit unit) => number is not { } known ? ""
        : unit == Unit.DegreeMinuteSecond ? AngleText.Format(known * 3600)
        : unit == Unit.Degree ? AngleText.FormatDegrees(known * 3600)
        : $"{Words.Exact(decimal.Round(known, 12))} {Units.Symbol(unit)}".TrimEnd();
}
