using FabLink.Engineering;
using FabLink.Engineering.Gauging;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Calculations;
using FabLink.Portal.Features.Instruments;

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
        var leans = Rule == "fixed" ? Typed.Exact(Projection, "projection") : null;
        decimal Engaged() => Typed.Exact(Engagement, "engagement") ?? throw new InputError("engagement", "The depth of the thread is missing.");
        return (Rule, hole, tolerance) switch
        {
            ("floating", { } h, _) => new("Position tolerance of each hole", Fasteners.FloatingTolerance(h, fastener), "T = H − F"),
            ("floating", _, { } t) => new("Smallest hole", Fasteners.FloatingHole(t, fastener), "H = F + T"),
            ("fixed", { } h, _) when leans is { } p && thread is { } t2 => new(
                "Position tolerance of the clearance hole, without a projected zone", Fasteners.FixedToleranceWithoutProjection(h, fastener, t2, p, Engaged()), "T1 = H − F − T2·(1 + 2P/D)"),
            ("fixed", { } h, _) when leans is { } p => new(
                "Position tolerance of clearance hole and thread, each, without a projected zone", Fasteners.FixedToleranceWithoutProjection(h, fastener, p, Engaged()), "T = (H − F)/(2 + 2P/D)"),
            ("fixed", { } h, _) when thread is { } t2 => new("Position tolerance of the clearance hole", Fasteners.FixedTolerance(h, fastener, t2), "T1 = H − F − T2"),
            ("fixed", { } h, _) => new("Position tolerance of clearance hole and thread, each", Fasteners.FixedTolerance(h, fastener), "T = (H − F)/2"),
            ("fixed", _, { } t) when leans is { } projection => new(
                "Smallest hole without a projected zone",
                Fasteners.FixedHoleWithoutProjection(fastener, t, thread ?? t, projection, Engaged()),
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

/// <summary>A requirement and an instrument; with a reading and temperatures also what the reading is at 20 °C.</summary>
public sealed record GaugeForm
{
    public string Requirement { get; init; } = "640 ±0.5";

    public string Unit { get; init; } = "mm";

    public string Kind { get; init; } = "tape";

    public string ExpandedUncertainty { get; init; } = "";

    public string Reading { get; init; } = "";

    public string PartTemperature { get; init; } = "";

    public string Material { get; init; } = "steel";

    /// <summary>How warm the scale is: <c>20</c>, or <c>part</c> for a steel scale as warm as the part.</summary>
    public string Scale { get; init; } = "20";

    internal GaugeResult Answer()
    {
        var requirement = JudgeTwins.Read(
            Typed.Text(Requirement) ?? throw new InputError("requirement", "The requirement is missing."),
            JudgeTwins.UnitOf(Unit, "unit") ?? Engineering.Quantities.Unit.Millimetre,
            general: null);
        var instrument = Instrument.Default(Kind, InstrumentBook.KindOf(Kind));
        var angle = !Units.IsLength(requirement.Unit);
        var own = Typed.Exact(ExpandedUncertainty, "expandedUncertainty") is { } typed ? Units.ToBase(typed, requirement.Unit) : (decimal?)null;
        if (own < 0)
            throw new InputError("expandedUncertainty", "An uncertainty must not be negative.");
        if (own is null && instrument.UncertaintyIsDefault && instrument.MeasuresAngles != angle)
            throw new InputError("kind", angle ? $"A {Kind} measures lengths; the requirement is an angle. Type U, or choose another." : $"A {Kind} measures angles; the requirement is a length. Type U, or choose another.");
        var reading = Typed.Exact(Reading, "reading");
        var warm = Typed.Exact(PartTemperature, "partTemperature");
        if (warm is not null && reading is null)
            throw new InputError("reading", "Type the reading that is to be brought to 20 °C.");
        if (warm is not null && angle)
            throw new InputError("partTemperature", "Even warmth leaves angles as they are.");
        var length = reading is { } read ? Units.ToBase(read, requirement.Unit) : requirement.Nominal ?? requirement.Limits.Upper ?? requirement.Limits.Lower ?? 0;
        // The calibration of a certain instrument is on its own page; here only what any of its kind can do.
        var assessment = GaugeCheck.Assess(
            instrument with { CalibrationDue = DateOnly.MaxValue }, requirement.Limits, angle ? 0 : length, Importance.Major, DateOnly.MinValue, null, own);
        var at20 = warm is { } part
            ? Scale == "part"
                ? Temperature.To20(length, part, Temperature.ExpansionOf(Material), part, Temperature.ExpansionOf("steel"))
                : Temperature.To20(length, part, Temperature.ExpansionOf(Material))
            : null;
        return new GaugeResult(requirement, own ?? instrument.ExpandedUncertaintyAt(angle ? 0 : length), assessment, at20);
    }
}

/// <param name="Requirement">As understood.</param>
/// <param name="ExpandedUncertainty">U that was used, in base units; null when not known.</param>
/// <param name="Assessment">Of the gauge.</param>
/// <param name="At20">Null without a temperature.</param>
public sealed record GaugeResult(Requirement Requirement, decimal? ExpandedUncertainty, GaugeAssessment Assessment, TemperatureAnswer? At20)
{
    public string Headline => Assessment.Fitness switch
    {
        GaugeFitness.Preferred => "Fine enough",
        GaugeFitness.Sufficient => "Just fine enough",
        GaugeFitness.TooCoarse => "Too coarse",
        _ => "Nothing can be said",
    } + (Assessment.Ratio is { } ratio ? $": the tolerance is {Typed.Say(ratio, 1)} times 2U" : "");

    /// <summary>Base units in the unit of the requirement, to a millionth.</summary>
    public string Say(decimal number) => $"{Typed.Say(Units.FromBase(number, Requirement.Unit), 6)} {Units.Symbol(Requirement.Unit)}";

    internal Footing Foot => new([.. Assessment.Sources, .. At20?.Sources ?? []], At20?.Cautions ?? []);
}

public sealed record ReachForm
{
    public string AngleDegrees { get; init; } = "2";

    public string Offset { get; init; } = "";

    public string Reach { get; init; } = "21.5";

    public string Unit { get; init; } = "in";

    internal Engineering.BoltUp.ReachRequest Question() => new()
    {
        AngleDegrees = Typed.Degrees(AngleDegrees, "angleDegrees"),
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
