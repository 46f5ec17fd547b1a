using FabLink.Engineering;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Calculations;

namespace FabLink.Portal.Features.Bench;

public sealed record JudgeForm
{
    public string Requirement { get; init; } = "12 ±0.1";

    public string Unit { get; init; } = "mm";

    public string Value { get; init; } = "12.1";

    public string ExpandedUncertainty { get; init; } = "";

    public string Rule { get; init; } = "simple";

    public string MinimumProbability { get; init; } = "";

    public string General { get; init; } = "";

    internal JudgeTwinQuestion Question() => new()
    {
        Requirement = Typed.Text(Requirement),
        Unit = Typed.Text(Unit),
        Value = Typed.Text(Value),
        ExpandedUncertainty = Typed.Text(ExpandedUncertainty),
        Rule = Typed.Text(Rule),
        MinimumProbability = Typed.Number(MinimumProbability, "minimumProbability"),
        General = Typed.Text(General),
    };
}

public sealed record GeneralToleranceForm
{
    /// <summary>Standard and class in one choice: <c>ISO 2768-1 m</c>.</summary>
    public string Class { get; init; } = "ISO 2768-1 m";

    public string Kind { get; init; } = "linear";

    public string Size { get; init; } = "120";

    internal static IEnumerable<string> Classes =>
        from each in new[] { ("ISO 2768-1", "f m c v"), ("ISO 2768-2", "H K L"), ("ISO 13920", "A B C D E F G H") }
        from letter in each.Item2.Split(' ')
        select $"{each.Item1} {letter}";

    internal GeneralToleranceQuestion Question() =>
        Class.LastIndexOf(' ') is var blank and > 0 ? new(Class[..blank], Class[(blank + 1)..], Kind, Typed.Exact(Size, "size")) : throw new InputError("class", "Choose a standard and its class.");
}

public sealed record FitForm
{
    public string Fit { get; init; } = "50 H7/p6";

    internal FitQuestion Question() => new(Typed.Text(Fit));
}

public sealed record PositionForm
{
    public string Nominal { get; init; } = "90; 50";

    public string Measured { get; init; } = "90.015; 49.973";

    public string Tolerance { get; init; } = "0.75";

    public string Modifier { get; init; } = "none";

    public string SizeLower { get; init; } = "";

    public string SizeUpper { get; init; } = "";

    public string SizeMeasured { get; init; } = "";

    public string SizeInternal { get; init; } = "hole";

    public string ExpandedUncertainty { get; init; } = "";

    public string Rule { get; init; } = "simple";

    internal PositionTwinQuestion Question() => new()
    {
        Nominal = Typed.Numbers(Nominal, "nominal"),
        Measured = Typed.Numbers(Measured, "measured"),
        Tolerance = Typed.Exact(Tolerance, "tolerance"),
        Modifier = Modifier,
        Size = Modifier == "none" ? null : new(
            Typed.Exact(SizeLower, "size/lower"), Typed.Exact(SizeUpper, "size/upper"), Typed.Exact(SizeMeasured, "size/measured"), SizeInternal == "hole"),
        ExpandedUncertainty = Typed.Exact(ExpandedUncertainty, "expandedUncertainty"),
        Rule = Rule,
    };
}

/// <summary>Fastener and either the hole or the tolerances; what is left empty is asked for.</summary>
public sealed record FastenerForm
{
    public string Rule { get; init; } = "floating";

    public string Fastener { get; init; } = "12";

    public string Hole { get; init; } = "13.5";

    public string Tolerance { get; init; } = "";

    public string ThreadTolerance { get; init; } = "";

    public string Projection { get; init; } = "";

    public string Engagement { get; init; } = "";

    /// <summary>What came of it, lengths in mm.</summary>
    internal FastenerAnswer Answer()
    {
        var fastener = Typed.Exact(Fastener, "fastener") ?? throw new InputError("fastener", "The fastener's largest diameter is missing.");
        var (hole, tolerance, thread) = (Typed.Exact(Hole, "hole"), Typed.Exact(Tolerance, "tolerance"), Typed.Exact(ThreadTolerance, "threadTolerance"));
        if (hole is null == tolerance is null)
            throw new InputError("tolerance", "Type the hole or the tolerance, and leave the one that is asked for empty.");
        return (Rule, hole, tolerance) switch
        {
            ("floating", { } h, _) => new("Position tolerance of each hole", Fasteners.FloatingTolerance(h, fastener), "T = H − F"),
            ("floating", _, { } t) => new("Smallest hole", Fasteners.FloatingHole(t, fastener), "H = F + T"),
            ("fixed", { } h, _) when thread is { } t2 => new("Position tolerance of the clearance hole", Fasteners.FixedTolerance(h, fastener, t2), "T1 = H − F − T2"),
            ("fixed", { } h, _) => new("Position tolerance of clearance hole and thread, each", Fasteners.FixedTolerance(h, fastener), "T = (H − F)/2"),
            ("fixed", _, { } t) when Typed.Exact(Projection, "projection") is { } projection => new(
                "Smallest hole without a projected zone",
                Fasteners.FixedHoleWithoutProjection(fastener, t, thread ?? t, projection, Typed.Exact(Engagement, "engagement") ?? throw new InputError("engagement", "The depth of the thread is missing.")),
                "H = F + T1 + T2·(1 + 2P/D)"),
            ("fixed", _, { } t) => new("Smallest hole, projected zone on the thread", Fasteners.FixedHole(fastener, t, thread ?? t), "H = F + T1 + T2"),
            _ => throw new InputError("rule", "Choose floating or fixed."),
        };
    }
}

/// <param name="What">Is answered.</param>
/// <param name="Value">mm, diametral.</param>
/// <param name="Formula">As the standard writes it.</param>
public sealed record FastenerAnswer(string What, decimal Value, string Formula)
{
    internal static Footing Foot { get; } = new(
        [Fasteners.Source],
        ["Sizes at maximum material: the smallest hole, the largest fastener, after coating.", "Perfect orientation; holes square to the face."]);
}

public sealed record ReachForm
{
    public string AngleDegrees { get; init; } = "2";

    public string Offset { get; init; } = "";

    public string Reach { get; init; } = "21.5";

    public string Unit { get; init; } = "in";

    internal Engineering.BoltUp.ReachRequest Question() => new()
    {
        AngleDegrees = Typed.Number(AngleDegrees, "angleDegrees"),
        Offset = Typed.Number(Offset, "offset"),
        Reach = Typed.Number(Reach, "reach"),
        Unit = Unit,
    };
}

public sealed record SamplingPlanForm
{
    public string Lot { get; init; } = "200";

    public string Level { get; init; } = "II";

    public string Aql { get; init; } = "1";

    public string LimitingFraction { get; init; } = "";

    public string Risk { get; init; } = "";

    internal SamplingPlanQuestion Question() => new()
    {
        Lot = Typed.Whole(Lot, "lot"),
        Level = Level,
        Aql = Typed.Exact(Aql, "aql"),
        LimitingFraction = Typed.Number(LimitingFraction, "limitingFraction"),
        Risk = Typed.Number(Risk, "risk"),
    };
}

public sealed record OperatingCurveForm
{
    public string SampleSize { get; init; } = "8";

    public string Accept { get; init; } = "0";

    public string Lot { get; init; } = "50";

    public string Nonconforming { get; init; } = "3";

    public string Fraction { get; init; } = "";

    internal OperatingCurveTwinQuestion Question() => new(
        Typed.Whole(SampleSize, "sampleSize"), Typed.Whole(Accept, "accept"), Typed.Whole(Lot, "lot"), Typed.Whole(Nonconforming, "nonconforming"), Typed.Number(Fraction, "fraction"));
}
