namespace FabLink.Engineering.BoltUp;

/// <summary>
/// The calculation <c>bolt-up</c> as it is asked and answered: units, defaults, certified solution, advice, probability.
/// </summary>
public static class BoltUpCalculation
{
    private const double DefaultWantedMm = 0.1;

    private static readonly string[] Sources =
    [
        "Margin: largest over all rigid moves of the smallest clearance c − |a − T·b|, with an upper bound proven by weak duality (docs/calculations/bolt-up.md).",
        "Allowances: floating (Da − F)/2 + (Db − F)/2, fixed (Db − F)/2; fastener formulas of ASME Y14.5-2018, Appendix B.",
        "Film: an unmasked hole loses twice the film thickness.",
    ];

    /// <summary>Answers a question. Throws <see cref="InputError"/> naming the field, e.g. <c>holes/3/a/diameter</c>.</summary>
    /// <param name="request">The joint and what is wanted of it.</param>
    /// <param name="setIn">mm or in: the steps in which the shop sets what is advised; null for the unit of the question. The answer stays in the unit of the question.</param>
    /// <param name="cancellation">Asked before every solve.</param>
    public static BoltUpAnswer Answer(BoltUpRequest request, string? setIn = null, CancellationToken cancellation = default)
    {
        var unit = Units.Millimetres(request.Unit, "unit");
        var joint = JointOf(request);
        var wanted = Finite.RequireNotNegative(request.WantedMargin ?? (DefaultWantedMm / unit), "wantedMargin") * unit;
        var adjust = request.Adjust switch
        {
            null or "b" => JointSide.B,
            "a" => JointSide.A,
            _ => throw new InputError("adjust", "The part whose holes may be opened is \"a\" or \"b\"."),
        };
        var probability = request.Samples is { } samples ? BoltUpProbability.Estimate(joint, samples, request.Seed ?? 1, cancellation: cancellation) : null;
        var solution = PlanarBoltUp.Solve(joint, cancellation);
        var advice = new Advisor(joint, wanted, adjust, setIn is null ? unit : Units.Millimetres(setIn, nameof(setIn)), cancellation).For(solution);
        return new BoltUpAnswer(
            unit == 1 ? "mm" : "in",
            solution.BoltsUp,
            solution.Margin / unit,
            solution.UpperBound / unit,
            solution.Move with { X = solution.Move.X / unit, Y = solution.Move.Y / unit },
            solution.Limiting,
            [.. solution.Holes.Zip(joint.Holes, (left, hole) => new HoleAnswer(left.Name, left.ClearanceLeft / unit, joint.Allowance(hole) / unit))],
            solution.Obstructed,
            new Certificate([.. solution.Certificate.Intervals.Select(interval => interval with { MarginAtMost = interval.MarginAtMost / unit })]),
            probability,
            wanted / unit,
            [.. advice.Select(each => AdviceText.Answer(each, joint, unit))],
            Sources,
            Cautions(joint, solution, advice, wanted, probability));
    }

    /// <summary>The joint in mm; also what a page draws from.</summary>
    public static Joint JointOf(BoltUpRequest request)
    {
        var unit = Units.Millimetres(request.Unit, "unit");
        if (request.Holes is not { Count: > 0 })
            throw new InputError("holes", "A joint needs at least one hole.");
        var holes = new JointHole[request.Holes.Count];
        for (var i = 0; i < holes.Length; i++)
        {
            try
            {
                holes[i] = HoleOf(request.Holes[i], unit);
            }
            catch (InputError error)
            {
                throw new InputError($"holes/{i}/{error.Field}".TrimEnd('/'), $"Hole {request.Holes[i]?.Name ?? $"in row {i + 1}"}: {error.Message}");
            }
        }

        return new Joint(
            holes,
            (request.Film?.A ?? 0) * unit,
            (request.Film?.B ?? 0) * unit,
            request.RotationLimitDegrees ?? 180).Validated();
    }

    private static JointHole HoleOf(BoltUpHole? hole, double unit)
    {
        if (hole is null)
            throw new InputError("", "the row is empty.");
        var kind = hole.Kind switch
        {
            null or "floating" => FastenerKind.Floating,
            "stud" => FastenerKind.Stud,
            _ => throw new InputError("kind", "kind is \"floating\" or \"stud\"."),
        };
        return new JointHole(
            hole.Name ?? "",
            SideOf(hole.A, "a", unit, kind == FastenerKind.Floating),
            SideOf(hole.B, "b", unit, needsDiameter: true),
            Needed(hole.Fastener, "fastener") * unit,
            kind);
    }

    private static HoleSide SideOf(BoltUpSide? side, string path, double unit, bool needsDiameter)
    {
        if (side is null)
            throw new InputError(path, $"{path} is missing.");
        var known = side.Uncertainty ?? side.PositionTolerance ?? side.DiameterLower ?? side.DiameterUpper ?? side.XLower ?? side.XUpper ?? side.YLower ?? side.YUpper
            ?? side.Slot?.LengthLower ?? side.Slot?.LengthUpper ?? side.Slot?.DirectionLower ?? side.Slot?.DirectionUpper;
        var spread = known is null
            ? null
            : new HoleSpread((side.Uncertainty ?? 0) * unit, (side.PositionTolerance ?? 0) * unit, (side.DiameterLower ?? 0) * unit, (side.DiameterUpper ?? 0) * unit)
            {
                X = new CoordinateSpread((side.XLower ?? 0) * unit, (side.XUpper ?? 0) * unit),
                Y = new CoordinateSpread((side.YLower ?? 0) * unit, (side.YUpper ?? 0) * unit),
                Length = (side.Slot?.LengthLower ?? side.Slot?.LengthUpper) is null ? null : new CoordinateSpread((side.Slot!.LengthLower ?? 0) * unit, (side.Slot.LengthUpper ?? 0) * unit),
                Direction = new CoordinateSpread(side.Slot?.DirectionLower ?? 0, side.Slot?.DirectionUpper ?? 0),
            };
        return new HoleSide(
            Needed(side.X, $"{path}/x") * unit,
            Needed(side.Y, $"{path}/y") * unit,
            (needsDiameter ? Needed(side.Diameter, $"{path}/diameter") : side.Diameter ?? 0) * unit)
        {
            Slot = side.Slot is { } slot
                ? new Slot(Needed(slot.Travel, $"{path}/slot/travel") * unit, Needed(slot.AngleDegrees, $"{path}/slot/angleDegrees"))
                : null,
            Masked = side.Masked ?? false,
            Detail = string.IsNullOrWhiteSpace(side.Detail) ? null : side.Detail,
            Drilled = side.Drilled ?? true,
            Spread = spread,
        };
    }

    private static double Needed(double? value, string field) =>
        value ?? throw new InputError(field, $"{field} is missing.");

    private static List<string> Cautions(
        Joint joint, JointSolution solution, IReadOnlyList<Advice> advice, double wanted, ProbabilityEstimate? probability)
    {
        var cautions = new List<string>
        {
            "This is calculation, not approval: local codes, the licensed engineer and the qualified inspector decide.",
            "Flat joints only: both patterns are taken in one plane, holes square to it, fasteners straight.",
        };
        if (advice.Any(each => each.Kind != AdviceKind.MoveDetail))
            cautions.Add("Edge distance and strength are not judged: ask the engineer before a hole is opened, slotted or drilled elsewhere.");
        if (advice.Any(each => each.Kind == AdviceKind.MoveDetail))
            cautions.Add("A detail is moved against the rest while it is only tacked; what else it locates is not judged: ask the engineer.");
        foreach (var name in solution.Obstructed)
            cautions.Add($"Hole {name} does not let its own fastener through after coating, whatever the positions.");
        if (solution is { Margin: < 0, UpperBound: >= 0 })
            cautions.Add("Too close to call: the margin is within the solver's gap of zero.");
        else if (solution.BoltsUp && solution.Margin < wanted)
            cautions.Add("It bolts up with less than the wanted margin.");
        if (joint.FilmA > 0 && joint.Holes.Any(hole => hole.Kind == FastenerKind.Stud && !hole.A.Masked))
            cautions.Add("A thread's pitch diameter changes by four times the film: mask studs and tapped holes.");
        if (probability is not null)
        {
            cautions.Add("The probability takes coordinates as independent and normal (U at k = 2), position tolerances as uniform in their zone, toleranced coordinates and "
                + "diameters as uniform between their limits; a common error of all holes is not in it.");
        }

        if (!advice.Any() && !(solution.BoltsUp && solution.Margin >= wanted - PlanarBoltUp.PromisedGap))
            cautions.Add("No single change of the kinds considered reaches the wanted margin.");
        return cautions;
    }
}
