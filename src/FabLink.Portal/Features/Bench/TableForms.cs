using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Geometry;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Calculations;

namespace FabLink.Portal.Features.Bench;

/// <summary>A form whose heart is a pasted table.</summary>
public interface ITableForm
{
    /// <summary>Name of the box that holds the table.</summary>
    string TableField { get; }

    string TableText { get; }
}

public sealed record FeatureForm : ITableForm
{
    public string Kind { get; init; } = "plane";

    public string Method { get; init; } = "minimum-zone";

    public string Points { get; set; } = "0\t0\t0.02\n100\t0\t-0.05\n200\t0\t0.03\n0\t80\t-0.04\n100\t80\t0.11\n200\t80\t-0.02\n0\t160\t0.05\n100\t160\t-0.01\n200\t160\t0.04";

    public string TableField => nameof(Points);

    public string TableText => Points;

    internal FeatureRequest Question()
    {
        var rows = PastedTable.SheetOf(Points, "points").Rows;
        // A first row of words names the columns; numbers need no names.
        var head = rows[0][0].Text.Any(char.IsLetter) ? 1 : 0;
        var points = new List<IReadOnlyList<double>>(rows.Count);
        foreach (var row in rows.Skip(head))
        {
            var point = new double[row.Count];
            for (var i = 0; i < point.Length; i++)
                point[i] = NumberText.TryParse(row[i].Text, out var number, out var refusal) ? (double)number : throw new InputError($"points/{points.Count}/{i}", $"Row {row.Number}: {refusal}");
            points.Add(point);
        }

        return new FeatureRequest(Kind, Method, points);
    }
}

public sealed record BoltUpForm : ITableForm
{
    private static readonly string[] _columns =
    [
        "hole", "ax", "ay", "bx", "by", "fastener", "ad", "bd", "kind",
        "a detail", "b detail", "a slot", "a slot angle", "b slot", "b slot angle", "a masked", "b masked", "a u", "b u", "a undrilled", "b undrilled",
        "a position", "b position", "ad lower", "ad upper", "bd lower", "bd upper",
    ];

    public string Unit { get; init; } = "mm";

    public string Holes { get; set; } =
        "hole\tax\tay\tad\tbx\tby\tbd\tfastener\tkind\tb detail\n1\t0\t0\t13.5\t0.3\t0.2\t13.5\t12\tfloating\t\n2\t300\t0\t13.5\t300.4\t-0.1\t13.5\t12\tfloating\t\n"
        + "3\t0\t200\t13.5\t4.2\t200.6\t13.5\t12\tfloating\tupper pad\n4\t300\t200\t13.5\t304.5\t201.1\t13.5\t12\tfloating\tupper pad";

    public string FilmA { get; init; } = "0";

    public string FilmB { get; init; } = "0.08";

    public string RotationLimitDegrees { get; init; } = "180";

    public string WantedMargin { get; init; } = "";

    public string Adjust { get; init; } = "b";

    public string Samples { get; init; } = "";

    public string Seed { get; init; } = "1";

    public string TableField => nameof(Holes);

    public string TableText => Holes;

    internal BoltUpRequest Question() => new()
    {
        Unit = Unit,
        Holes = [.. PastedTable.Read(Holes, "holes", _columns, 6).Rows.Select(HoleOf)],
        Film = new BoltUpFilm { A = Typed.Number(FilmA, "film/a"), B = Typed.Number(FilmB, "film/b") },
        RotationLimitDegrees = Typed.Number(RotationLimitDegrees, "rotationLimitDegrees"),
        WantedMargin = Typed.Number(WantedMargin, "wantedMargin"),
        Adjust = Adjust,
        Samples = Typed.Whole(Samples, "samples"),
        Seed = Typed.Whole(Seed, "seed"),
    };

    private static BoltUpHole HoleOf(PastedRow row) => new()
    {
        Name = row.Text("hole"),
        A = SideOf(row, "a"),
        B = SideOf(row, "b"),
        Fastener = row.Number("fastener"),
        Kind = row.Text("kind"),
    };

    private static BoltUpSide SideOf(PastedRow row, string side) => new()
    {
        X = row.Number(side + "x"),
        Y = row.Number(side + "y"),
        Diameter = row.Number(side + "d"),
        Detail = row.Text(side + " detail"),
        Slot = row.Number(side + " slot") is { } travel ? new BoltUpSlot { Travel = travel, AngleDegrees = row.Number(side + " slot angle") } : null,
        Masked = row.Flag(side + " masked") ? true : null,
        Uncertainty = row.Number(side + " u"),
        PositionTolerance = row.Number(side + " position"),
        DiameterLower = row.Number(side + "d lower"),
        DiameterUpper = row.Number(side + "d upper"),
        Drilled = row.Flag(side + " undrilled") ? false : null,
    };
}

public sealed record ChainForm : ITableForm
{
    private static readonly string[] _columns = ["link", "nominal", "lower", "upper", "sensitivity", "distribution", "sigma", "measured", "u"];

    public string Links { get; set; } =
        "link\tnominal\tlower\tupper\tsensitivity\tmeasured\tu\nrail to pad\t412\t-0.5\t0.5\t1\t412.3\t0.1\npad thickness\t12\t-0.2\t0.2\t1\t\t\narm\t360\t-0.8\t0.8\t-1\t\t\nspacer\t62.5\t-0.1\t0.1\t-1\t\t";

    public string RequiredLower { get; init; } = "0.5";

    public string RequiredUpper { get; init; } = "2.5";

    public string Samples { get; init; } = "100000";

    public string Seed { get; init; } = "1";

    public string Unit { get; init; } = "mm";

    public string TableField => nameof(Links);

    public string TableText => Links;

    internal ChainRequest Question() => new(
        [.. PastedTable.Read(Links, "links", _columns, 2).Rows.Select(row => new ChainLink(
            row.Text("link") ?? "",
            row.Number("nominal"),
            row.Number("lower"),
            row.Number("upper"),
            row.Number("sensitivity") ?? 1,
            row.Text("distribution") ?? "normal",
            row.Number("sigma") ?? 3,
            row.Number("measured"),
            row.Number("u")))],
        RequiredOf(RequiredLower, RequiredUpper),
        Typed.Whole(Samples, "samples") ?? 0,
        Typed.Whole(Seed, "seed") ?? 1);

    internal static RequiredLimits? RequiredOf(string lower, string upper) =>
        (Typed.Number(lower, "required/lower"), Typed.Number(upper, "required/upper")) is (var low, var high) && (low ?? high) is not null ? new RequiredLimits(low, high) : null;
}

public sealed record VectorLoopForm : ITableForm
{
    private static readonly string[] _columns =
    [
        "link", "length", "direction", "lower", "upper", "direction lower", "direction upper", "relative", "measured", "u", "direction measured", "direction u", "unknown",
    ];

    public string Links { get; set; } =
        "link\tlength\tlower\tupper\tdirection\tdirection lower\tdirection upper\trelative\nbase\t400\t-0.5\t0.5\t0\t\t\t\npost\t300\t-0.5\t0.5\t90\t-0.3\t0.3\tyes\narm\t250\t-0.5\t0.5\t120\t-0.5\t0.5\tyes";

    public string Closing { get; init; } = "length";

    public string RequiredLower { get; init; } = "";

    public string RequiredUpper { get; init; } = "";

    public string Samples { get; init; } = "100000";

    public string Seed { get; init; } = "1";

    public string TableField => nameof(Links);

    public string TableText => Links;

    internal VectorLoopRequest Question()
    {
        var rows = PastedTable.Read(Links, "links", _columns, 3).Rows;
        UnknownValue[] unknowns =
        [
            .. from row in rows
               from field in (row.Text("unknown") ?? "").Split([',', '+', ' '], StringSplitOptions.RemoveEmptyEntries)
               select new UnknownValue(row.Text("link") ?? "", field),
        ];
        return Asked(rows, unknowns);
    }

    private VectorLoopRequest Asked(IEnumerable<PastedRow> rows, UnknownValue[] unknowns) => new(
        [.. rows.Select(row => new VectorLink(
            row.Text("link") ?? "",
            new TolerancedValue(row.Number("length"), row.Number("lower"), row.Number("upper"), Measured: row.Number("measured"), StandardUncertainty: row.Number("u")),
            new TolerancedValue(
                row.Number("direction"), row.Number("direction lower"), row.Number("direction upper"),
                Measured: row.Number("direction measured"), StandardUncertainty: row.Number("direction u")),
            row.Flag("relative")))],
        unknowns.Length > 0 ? "length" : Closing,
        ChainForm.RequiredOf(RequiredLower, RequiredUpper),
        Typed.Whole(Samples, "samples") ?? 0,
        Typed.Whole(Seed, "seed") ?? 1,
        Unknowns: unknowns.Length > 0 ? unknowns : null);
}

/// <summary>Either one reading per row (part, person, trial, value), or one row per person and trial with the parts as further columns.</summary>
public sealed record GaugeStudyForm : ITableForm
{
    public string Measurements { get; set; } =
        "person\ttrial\t1\t2\t3\t4\t5\nA\t1\t12.03\t12.11\t11.94\t12.06\t11.98\nA\t2\t12.04\t12.10\t11.95\t12.05\t11.97\nA\t3\t12.03\t12.12\t11.94\t12.06\t11.98\n"
        + "B\t1\t12.01\t12.10\t11.93\t12.04\t11.96\nB\t2\t12.02\t12.09\t11.93\t12.05\t11.97\nB\t3\t12.02\t12.10\t11.92\t12.04\t11.96";

    public string Method { get; init; } = "anova";

    public string Tolerance { get; init; } = "0.4";

    public string TableField => nameof(Measurements);

    public string TableText => Measurements;

    internal GaugeStudyQuestion Question()
    {
        var sheet = PastedTable.SheetOf(Measurements, "measurements");
        var head = Enumerable.Range(0, sheet.Rows[0].Count).Select(i => sheet.Rows[0][i].Text.Trim()).ToArray();
        var readings = head.Contains("value", StringComparer.OrdinalIgnoreCase)
            ? PastedTable.Read(Measurements, "measurements", ["part", "person", "trial", "value"], 4).Rows.Select(row => new GaugeReadingQuestion
            {
                Part = row.Text("part"),
                Person = row.Text("person"),
                Trial = (int?)row.Number("trial"),
                Value = (decimal?)row.Number("value"),
            })
            : from row in sheet.Rows.Skip(1)
              from column in Enumerable.Range(2, Math.Max(0, head.Length - 2))
              select new GaugeReadingQuestion
              {
                  Part = head[column],
                  Person = row[0].Text.Trim(),
                  Trial = Typed.Whole(row[1].Text, "measurements"),
                  Value = Typed.Exact(row[column].Text, "measurements"),
              };
        return new GaugeStudyQuestion([.. readings], Method, Typed.Exact(Tolerance, "tolerance"));
    }
}
