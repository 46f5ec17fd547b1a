using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Geometry;
using FabLink.Engineering.Sampling;

namespace FabLink.Portal.Features.Calculations;

/// <summary>Every calculation there is, once: the API, its description and the bench all read this list.</summary>
public static class Calculators
{
    public const int MostLinks = 64;
    public const int MostHoles = 5_000;

    /// <summary>Holes × samples of one probability.</summary>
    public const int MostHoleSamples = 5_000_000;

    private const int MostZonePoints = 100_000;
    private const double LargestCoordinate = 1e6;

    public static IReadOnlyList<Calculator> All { get; } =
    [
        new Calculator<JudgeTwinQuestion, JudgeTwinReply>(
            "judge", "Judge one value", "Reads a requirement as a drawing writes it and judges a measured value against it.",
            "Numbers of at most 24 digits.",
            """{"requirement":"12 ±0.1","unit":"mm","value":"12.1","valueUnit":"mm","expandedUncertainty":"0.02","rule":"simple","minimumProbability":0.95}""",
            (question, _) => JudgeTwins.Judge(question)),
        new Calculator<GeneralToleranceQuestion, GeneralToleranceReply>(
            "general-tolerance", "General tolerance", "What ISO 2768 or ISO 13920 allows a size, an angle or a form that has no tolerance of its own.",
            "The ranges of the tables.",
            """{"standard":"ISO 2768-1","class":"m","kind":"linear","size":120}""",
            (question, _) => ToleranceTwins.GeneralTolerance(question)),
        new Calculator<FitQuestion, FitReply>(
            "fit", "Fit", "Limits of hole and shaft and the clearance between them, by ISO 286.",
            "Sizes to 500 mm.",
            """{"fit":"50 H7/p6"}""",
            (question, _) => ToleranceTwins.Fit(question)),
        new Calculator<PositionTwinQuestion, PositionReply>(
            "position", "Position", "The diameter of the zone that a measured point needs, with the bonus of maximum or least material.",
            "Coordinates to 10⁹ mm.",
            """{"nominal":[90,50],"measured":[90.015,49.973],"tolerance":0.75,"modifier":"M","size":{"lower":6.3,"upper":6.5,"measured":6.4,"internal":true}}""",
            (question, _) => JudgeTwins.Position(question)),
        new Calculator<FeatureRequest, FeatureAnswer>(
            "feature", "Feature from points", "Line, plane, circle, cylinder or sphere through measured points, by least squares or minimum zone with its proof.",
            "1,000,000 points for least squares, 100,000 for a minimum zone.",
            """{"kind":"circle","method":"least-squares","points":[[1,7],[2,6],[5,8],[7,7],[9,5],[3,7]]}""",
            Feature),
        new Calculator<BoltUpRequest, BoltUpAnswer>(
            "bolt-up", "Bolt-up", "Can every fastener of two hole patterns pass at once, by how much, and what is the smallest thing to change?",
            "5,000 holes; holes × samples at most 5,000,000; coordinates to 1,000,000 mm.",
            """{"unit":"mm","holes":[{"name":"1","a":{"x":0,"y":0,"diameter":13.5},"b":{"x":0.4,"y":0,"diameter":13.5},"fastener":12,"kind":"floating"}],"film":{"a":0,"b":0},"rotationLimitDegrees":180}""",
            BoltUp),
        new Calculator<ChainRequest, ChainAnswer>(
            "chain", "Chain", "Where the closing dimension of a chain comes out: worst case, root sum square, simulation, and what is left for the links to come.",
            "64 links, 10,000,000 samples.",
            """{"links":[{"name":"A","nominal":10,"lower":-0.1,"upper":0.1,"sensitivity":1,"distribution":"normal","sigma":3}],"required":{"lower":9.8,"upper":10.2},"samples":100000,"seed":1}""",
            Chain),
        new Calculator<VectorLoopRequest, VectorLoopAnswer>(
            "vector-loop", "Vector loop", "The same for links in a plane with lengths and directions: what closes is x, y, a length or an angle.",
            "64 links, 1,000,000 samples.",
            """{"links":[{"name":"base","length":{"nominal":400,"lower":-0.5,"upper":0.5},"direction":{"nominal":0}},{"name":"post","length":{"nominal":300,"lower":-0.5,"upper":0.5},"direction":{"nominal":90,"lower":-0.5,"upper":0.5},"relative":true}],"closing":"length","required":{"lower":498,"upper":502},"samples":100000,"seed":1}""",
            Loop),
        new Calculator<ReachRequest, ReachAnswer>(
            "reach", "Reach", "What an angle error does at a distance, and which angle an offset means.",
            "Angles below 90°.",
            """{"angleDegrees":2,"reach":21.5,"unit":"in"}""",
            (question, _) => ReachCalculation.Answer(question)),
        new Calculator<SamplingPlanQuestion, SamplingPlanReply>(
            "sampling-plan", "Sampling plan", "How many pieces of a lot to inspect, and with how many nonconforming it is accepted.",
            "Lots of 2 pieces and more; 1,000,000 with a limiting fraction.",
            """{"lot":200,"level":"II","aql":1.0,"inspection":"normal"}""",
            (question, _) => SamplingTwins.Plan(question)),
        new Calculator<OperatingCurveTwinQuestion, OperatingCurveAnswer>(
            "operating-curve", "Operating curve", "How likely a sampling plan accepts a lot, exactly.",
            "Lots and samples to 10,000,000.",
            """{"sampleSize":8,"accept":0,"lot":50,"nonconforming":3}""",
            (question, _) => SamplingTwins.Curve(question)),
        new Calculator<GaugeStudyQuestion, GaugeStudyReply>(
            "gauge-study", "Gauge study", "How much of what is measured comes from the gauge and its people: average and range, or analysis of variance.",
            "10,000 readings; average and range by its table of constants.",
            """{"measurements":[{"part":"1","person":"A","trial":1,"value":0.29},{"part":"1","person":"A","trial":2,"value":0.41},{"part":"1","person":"B","trial":1,"value":0.08},{"part":"1","person":"B","trial":2,"value":0.25},{"part":"2","person":"A","trial":1,"value":-0.56},{"part":"2","person":"A","trial":2,"value":-0.68},{"part":"2","person":"B","trial":1,"value":-0.47},{"part":"2","person":"B","trial":2,"value":-1.22}],"method":"anova"}""",
            (question, _) => GaugeStudyTwin.Study(question)),
    ];

    public static Calculator? Find(string name) => All.FirstOrDefault(calculator => calculator.Name == name);

    internal static FeatureAnswer Feature(FeatureRequest question, CancellationToken cancellation)
    {
        if (question is { Method: FeatureCalculation.MinimumZoneMethod, Points.Count: > MostZonePoints })
            throw new InputError("points", $"A minimum zone is computed of at most {MostZonePoints} points, not {question.Points.Count}.");
        return FeatureCalculation.Run(question, cancellation);
    }

    internal static ChainAnswer Chain(ChainRequest question, CancellationToken cancellation)
    {
        CheckLinks(question.Links?.Count);
        return ChainCalculation.Run(question, cancellation: cancellation);
    }

    internal static VectorLoopAnswer Loop(VectorLoopRequest question, CancellationToken cancellation)
    {
        CheckLinks(question.Links?.Count);
        return VectorLoopCalculation.Run(question, cancellation: cancellation);
    }

    internal static BoltUpAnswer BoltUp(BoltUpRequest question, CancellationToken cancellation)
    {
        var holes = question.Holes ?? [];
        if (holes.Count > MostHoles)
            throw new InputError("holes", $"A joint has at most {MostHoles} holes, not {holes.Count}.");
        if ((long)holes.Count * (question.Samples ?? 0) > MostHoleSamples)
            throw new InputError("samples", $"Holes times samples are at most {MostHoleSamples}: {holes.Count} holes allow {MostHoleSamples / holes.Count} samples.");
        for (var i = 0; i < holes.Count; i++)
        {
            CheckSide(holes[i]?.A, $"holes/{i}/a");
            CheckSide(holes[i]?.B, $"holes/{i}/b");
        }

        return BoltUpCalculation.Answer(question, cancellation: cancellation);
    }

    private static void CheckLinks(int? count)
    {
        if (count > MostLinks)
            throw new InputError("links", $"A chain has at most {MostLinks} links here, not {count}.");
    }

    private static void CheckSide(BoltUpSide? side, string field)
    {
        if (Math.Abs(side?.X ?? 0) > LargestCoordinate)
            throw new InputError(field + "/x", $"Coordinates are at most {LargestCoordinate}.");
        if (Math.Abs(side?.Y ?? 0) > LargestCoordinate)
            throw new InputError(field + "/y", $"Coordinates are at most {LargestCoordinate}.");
    }
}
