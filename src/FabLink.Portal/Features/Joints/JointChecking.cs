using FabLink.Engineering;
using FabLink.Engineering.BoltUp;
using FabLink.Engineering.Geometry;

namespace FabLink.Portal.Features.Joints;

/// <summary>What a joint is to be held to.</summary>
public sealed record JointTerms(double WantedMargin, double RotationLimitDegrees, double PartFilm, double MateFilm)
{
    /// <summary>Enough for a probability to a percent or two; the whole check stays within a tenth of a second.</summary>
    public int Samples { get; init; } = 2_000;

    public long Seed { get; init; } = 1;

    /// <summary>mm or in: the steps in which the shop of the part sets what is advised.</summary>
    public string SetIn { get; init; } = "mm";

    /// <summary>The part is past its tacks: moving a detail means cutting it loose, so that comes last.</summary>
    public bool Welded { get; init; }
}

/// <summary>Finds out how a joint stands: pure, from what is drawn, measured and surveyed.</summary>
public static class JointChecking
{
    /// <param name="part">The side whose details may be moved and whose holes may be opened.</param>
    /// <param name="mate">The other part, or the machine as surveyed.</param>
    public static JointFinding Find(JointSideFacts part, JointSideFacts mate, JointTerms terms)
    {
        var problems = part.Problems.Concat(mate.Problems).ToList();
        var mates = mate.Holes.ToDictionary(hole => hole.Name);
        var pairs = part.Holes.Where(hole => mates.ContainsKey(hole.Name)).Select(hole => (Part: hole, Mate: mates[hole.Name])).ToList();
        if (problems.Count == 0)
        {
            problems.AddRange(part.Holes.Where(hole => !mates.ContainsKey(hole.Name)).Select(hole => $"Hole {hole.Name} of {part.What} has no mate in {mate.What}."));
            problems.AddRange(mate.Holes.Where(hole => pairs.TrueForAll(pair => pair.Part.Name != hole.Name)).Select(hole => $"Hole {hole.Name} of {mate.What} has no mate in {part.What}."));
            problems.AddRange(pairs.Where(pair => (pair.Part.Fastener ?? pair.Mate.Fastener) is null).Select(pair => $"Hole {pair.Part.Name}: neither side names its fastener, such as M12."));
            problems.AddRange(pairs.Where(pair => pair is { Part.Fastener: { } one, Mate.Fastener: { } other } && one != other).Select(pair => $"Hole {pair.Part.Name}: the two sides name different fasteners."));
            problems.AddRange(pairs.Where(pair => Fixed(pair.Part) && Fixed(pair.Mate)).Select(pair => $"Hole {pair.Part.Name}: both sides are a stud or tapped; the fastener can be fixed in one only."));
            if (pairs.Exists(pair => Fixed(pair.Part)) && pairs.Exists(pair => Fixed(pair.Mate)))
                problems.Add("Studs or tapped holes on both sides are not computed; make two joints of them.");
            if (problems.Count == 0 && pairs.Count == 0)
                problems.Add("No hole is located yet.");
        }

        // A survey is measured by its nature; what is still to be measured are the parts.
        var sides = new[] { part, mate }.Where(side => side.IsPart).ToList();
        var (measured, of) = (sides.Sum(side => side.Holes.Count(hole => hole.Measured)), sides.Sum(side => side.Holes.Count));
        var form = !sides.Exists(side => side.Holes.Any(hole => hole.AnyMeasured)) ? "as drawn" : measured == of ? "as built" : "as built so far";
        if (problems.Count > 0)
            return Unknown(form, measured, of, terms, problems);
        try
        {
            return Found(form, pairs, terms, measured, of, [.. part.Cautions, .. mate.Cautions]);
        }
        catch (InputError refusal)
        {
            return Unknown(form, measured, of, terms, [refusal.Message]);
        }
        catch (InvalidOperationException unproven)
        {
            // An answer whose proof does not hold is not an answer.
            return Unknown(form, measured, of, terms, [$"Nothing is claimed: {unproven.Message}"]);
        }
    }

    private static JointFinding Unknown(string form, int measured, int of, JointTerms terms, List<string> problems) =>
        new(form, "not known", string.Join(" ", problems.Take(12)), null, null, terms.WantedMargin, null, [], [], measured, of, [], null, null, [], [], []) { Unit = terms.SetIn };

    private static JointFinding Found(string form, List<(SideHole Part, SideHole Mate)> pairs, JointTerms terms, int measured, int of, IReadOnlyList<string> aboutSides)
    {
        // The solver keeps the fixed fastener in a.
        var partIsA = pairs.Exists(pair => Fixed(pair.Part));
        BoltUpRequest Ask(Func<SideHole, BoltUpSide> side, bool nominalPart) => new()
        {
            Unit = "mm",
            Film = new BoltUpFilm { A = partIsA ? terms.PartFilm : terms.MateFilm, B = partIsA ? terms.MateFilm : terms.PartFilm },
            RotationLimitDegrees = terms.RotationLimitDegrees,
            WantedMargin = terms.WantedMargin,
            Adjust = partIsA ? "a" : "b",
            Holes =
            [
                .. pairs.Select(pair =>
                {
                    var (mine, other) = (nominalPart ? pair.Part.Drawn : side(pair.Part), side(pair.Mate));
                    return new BoltUpHole
                    {
                        Name = pair.Part.Name,
                        A = partIsA ? mine : other,
                        B = partIsA ? other : mine,
                        Fastener = pair.Part.Fastener ?? pair.Mate.Fastener,
                        Kind = Fixed(pair.Part) || Fixed(pair.Mate) ? "stud" : "floating",
                    };
                }),
            ],
        };

        var ask = Ask(hole => hole.Now, nominalPart: false);
        var joint = BoltUpCalculation.JointOf(ask);
        var answer = BoltUpCalculation.Answer(Spreads(joint) ? ask with { Samples = terms.Samples, Seed = terms.Seed } : ask, terms.SetIn);
        var drawn = Drawn(BoltUpCalculation.JointOf(Ask(hole => hole.Drawn, nominalPart: true)), terms);
        var fine = answer.BoltsUp && answer.Margin >= terms.WantedMargin;
        // What keeps the part's own drawing goes first; what does not needs the engineer's word before it is done.
        var mine = partIsA ? "a" : "b";
        var ways = answer.Advice.Where(advice => SideOf(advice) is not { } side || side == mine || advice.Holes.Any(hole => hole.Side == mine))
            .Select(advice => advice with { Holes = [.. advice.Holes.Where(hole => Changes(hole, pairs, mine))] })
            .Where(advice => advice.Move is not null || advice.Holes.Count > 0 && advice.Holes.All(hole => IsPossible(hole, pairs, mine)))
            .Select(advice => ToOwnSize(advice, pairs, mine, joint))
            .Select(advice => (
                Advice: advice with { Holes = [.. advice.Holes.Select(hole => hole.Side == mine ? hole : hole with { Name = $"{hole.Name} of the mate" })] },
                Own: OwnLimits(advice with { Holes = [.. advice.Holes.Where(hole => hole.Side == mine)] }, [.. pairs.Select(pair => pair.Part)])))
            .OrderBy(way => terms.Welded && way.Advice.Move is not null ? 3 : way.Own.Breaks.Count > 0 ? 2 : way.Own.Unproven.Count > 0 ? 1 : 0).ToList();
        List<string> cautions = [.. answer.Cautions, .. aboutSides];
        if (HowFarOnly(pairs) is { Length: > 0 } holes)
            cautions.Add($"Of {holes} only the deviation of the position is measured: it counts at its nominal place and scatters by that much. Measure x and y to be certain.");
        var another = !answer.BoltsUp && Math.Max(-answer.Margin, Farthest(pairs)) > Nearest(pairs) / 2;
        if (another)
            cautions.Add("Holes stand farther off than halfway to their neighbours: are names swapped, or is this another part?");
        return new JointFinding(
            form,
            answer.BoltsUp ? "bolts up" : "does not bolt up",
            "",
            answer.Margin,
            answer.UpperBound,
            terms.WantedMargin,
            answer.Move,
            answer.Limiting,
            [.. answer.Obstructed.SelectMany(name => TooSmall(name, pairs, terms))],
            measured,
            of,
            [.. pairs.Select((pair, i) => State(pair, joint.Holes[i], answer, answer.Holes[i], partIsA))],
            answer.Probability,
            drawn,
            [.. pairs.SelectMany(pair => pair.Part.Failed.Concat(pair.Mate.Failed)).Select(failed => failed with { Matters = !fine })],
            // Whatever belongs to a machine as found, or to a mate that is finished, is not changed by this part's shop.
            [.. ways.Select(way => way.Advice)],
            cautions)
        {
            Unit = terms.SetIn,
            IsOfAnotherPart = another,
            AdviceBreaks = [.. ways.Select(way => way.Own.Breaks)],
            Welded = terms.Welded,
            AdviceUnproven = [.. ways.Select(way => way.Own.Unproven)],
        };
    }

    private static SideHole Of(HoleChangeAnswer change, List<(SideHole Part, SideHole Mate)> pairs, string mine) =>
        pairs.Where(pair => pair.Part.Name == change.Name).Select(pair => change.Side == mine ? pair.Part : pair.Mate).First();

    /// <summary>What an advice names although it stays as it is.</summary>
    private static bool Changes(HoleChangeAnswer change, List<(SideHole Part, SideHole Mate)> pairs, string mine) =>
        Of(change, pairs, mine).Now is not { Diameter: { } now } hole || hole.X != change.X || hole.Y != change.Y || change.Slot?.Travel != hole.Slot?.Travel || change.Diameter > now + 1e-9;

    /// <summary>
    /// A hole that is opened anyway is opened to what its own drawing asks, in steps of a tenth of a millimetre, where that is larger and permitted: one cut for
    /// the joint and the dimension. The margin is that of the check with it done.
    /// </summary>
    private static AdviceAnswer ToOwnSize(AdviceAnswer advice, List<(SideHole Part, SideHole Mate)> pairs, string mine, Joint joint)
    {
        if (advice.Kind is not ("open-holes" or "open-all"))
            return advice;
        var holes = advice.Holes.Select(change =>
            change.Side == mine && change.Slot is null && Of(change, pairs, mine).Limits.FirstOrDefault(limit => limit.Of == "diameter") is { Lower: { } lower } own
                && Math.Ceiling(((lower + own.Guard) * 10) - 1e-6) / 10 is var size && size > change.Diameter && own.Proves(size)
                ? change with { Diameter = size }
                : change).ToList();
        if (holes.SequenceEqual(advice.Holes))
            return advice;
        var opened = joint with
        {
            Holes =
            [
                .. joint.Holes.Select(hole => holes.FirstOrDefault(change => change.Name == hole.Name && change.Side == mine) is not { } change ? hole
                    : mine == "a" ? hole with { A = hole.A with { Diameter = change.Diameter } } : hole with { B = hole.B with { Diameter = change.Diameter } }),
            ],
        };
        return advice with { Holes = holes, Margin = PlanarBoltUp.Solve(opened).Margin };
    }

    /// <summary>
    /// A hole that is opened does not run into the next one, and still holds its fastener: no wider than twice the fastener and no longer than three
    /// times (common practice); what was drawn so stays.
    /// </summary>
    private static bool IsPossible(HoleChangeAnswer change, List<(SideHole Part, SideHole Mate)> pairs, string mine)
    {
        var (now, over) = (Of(change, pairs, mine).Now, change.Diameter + (change.Slot?.Travel ?? 0));
        var fastener = pairs.Where(pair => pair.Part.Name == change.Name).Select(pair => pair.Part.Fastener ?? pair.Mate.Fastener).First()!.Value;
        return over < Nearest([.. pairs.Select(pair => change.Side == mine ? pair.Part : pair.Mate)], change.Name)
            && (change.Diameter <= 2 * fastener || change.Diameter <= now.Diameter)
            && (change.Slot is null || over <= 3 * fastener || over <= now.Diameter + (now.Slot?.Travel ?? 0));
    }

    /// <summary>The hole farthest from its mate after the least squares fit: the best move spreads what is off over all of them, and hides one that is far out.</summary>
    private static double Farthest(List<(SideHole Part, SideHole Mate)> pairs)
    {
        static Vector2D At(SideHole hole) => new(hole.Now.X!.Value, hole.Now.Y!.Value);
        try
        {
            return RigidFit.Match([.. pairs.Select(pair => At(pair.Part))], [.. pairs.Select(pair => At(pair.Mate))]).Residuals.Max(residual => residual.Length);
        }
        catch (InputError)
        {
            return 0;
        }
    }

    private static double Nearest(List<(SideHole Part, SideHole Mate)> pairs) =>
        pairs.Min(pair => Nearest([.. pairs.Select(each => each.Part)], pair.Part.Name));

    private static double Nearest(IReadOnlyList<SideHole> holes, string name) =>
        holes.First(hole => hole.Name == name).Now is var one
            ? holes.Where(hole => hole.Name != name).Select(hole => double.Hypot(hole.Now.X!.Value - one.X!.Value, hole.Now.Y!.Value - one.Y!.Value)).DefaultIfEmpty(double.MaxValue).Min()
            : double.MaxValue;

    /// <summary>Of which side a hole does not let its fastener through.</summary>
    private static IEnumerable<string> TooSmall(string name, List<(SideHole Part, SideHole Mate)> pairs, JointTerms terms)
    {
        var (part, mate) = pairs.First(pair => pair.Part.Name == name);
        var fastener = (part.Fastener ?? mate.Fastener)!.Value;
        if (Small(part, terms.PartFilm))
            yield return $"{name} of the part";
        if (Small(mate, terms.MateFilm))
            yield return $"{name} of the mate";

        bool Small(SideHole hole, double film) => !Fixed(hole) && hole.Now.Diameter is { } size && size - (hole.Now.Masked == true ? 0 : 2 * film) <= fastener;
    }

    /// <summary>Balloons that an advice, done exactly, takes outside their own limits, and those that it leaves too near to one to be proven.</summary>
    private static (IReadOnlyList<string> Breaks, IReadOnlyList<string> Unproven) OwnLimits(AdviceAnswer advice, IReadOnlyList<SideHole> part)
    {
        var changes = (advice.Move is { } move ? Moved(move, part) : Opened(advice, part)).ToList();
        var breaks = changes.Where(change => !change.Limit.Permits(change.Mm)).Select(change => change.Limit.Balloon)
            // A round hole that is filed out is a slot, and its drawing knows none.
            .Concat(from change in advice.Holes
                    where change.Slot is { Travel: > 0 }
                    from hole in part
                    where hole.Name == change.Name && hole.Drawn.Slot is null
                    from limit in hole.Limits
                    where limit.Of == "diameter"
                    select limit.Balloon)
            .Distinct().ToList();
        return (breaks, [.. changes.Where(change => !change.Limit.Proves(change.Mm)).Select(change => change.Limit.Balloon).Distinct().Except(breaks)]);
    }

    private static IEnumerable<(OwnLimit Limit, double Mm)> Moved(DetailMoveAnswer move, IReadOnlyList<SideHole> part)
    {
        if (part.FirstOrDefault(hole => hole.Name == move.About) is not { } about)
            return [];
        var (sin, cos) = double.SinCos(move.TurnDegrees * (Math.PI / 180));
        return part.Where(hole => hole.Now.Detail == move.Detail).SelectMany(hole =>
        {
            double x = hole.Now.X!.Value - about.Now.X!.Value, y = hole.Now.Y!.Value - about.Now.Y!.Value;
            return Becomes(hole, ("x", about.Now.X!.Value + (cos * x) - (sin * y) + move.ShiftX), ("y", about.Now.Y!.Value + (sin * x) + (cos * y) + move.ShiftY));
        });
    }

    private static IEnumerable<(OwnLimit Limit, double Mm)> Opened(AdviceAnswer advice, IReadOnlyList<SideHole> part) =>
        advice.Holes.SelectMany(change => part.Where(hole => hole.Name == change.Name).SelectMany(hole => Becomes(
            hole, ("x", change.X), ("y", change.Y), ("diameter", change.Diameter), ("length", change.Diameter + (change.Slot?.Travel ?? 0)))));

    private static IEnumerable<(OwnLimit Limit, double Mm)> Becomes(SideHole hole, params (string Of, double Mm)[] becomes) =>
        from one in becomes from limit in hole.Limits where limit.Of == one.Of select (limit, one.Mm);

    private static string HowFarOnly(List<(SideHole Part, SideHole Mate)> pairs) =>
        pairs.Where(pair => pair.Part.OnlyHowFar || pair.Mate.OnlyHowFar).Select(pair => pair.Part.Name).ToList() is { Count: > 0 } names
            ? $"{(names.Count == 1 ? "hole" : "holes")} {string.Join(", ", names)}"
            : "";

    private static JointDrawn Drawn(Joint joint, JointTerms terms)
    {
        var solution = PlanarBoltUp.Solve(joint);
        var worst = WorstCase.Margin(joint);
        // What holds in the worst case needs no sampling.
        var probability = worst < 0 && Spreads(joint) ? BoltUpProbability.Estimate(joint, terms.Samples, terms.Seed) : null;
        return new JointDrawn(solution.BoltsUp, solution.Margin, worst, probability);
    }

    private static bool Spreads(Joint joint) => joint.Holes.Any(hole => hole.A.Spread is not null || hole.B.Spread is not null);

    private static bool Fixed(SideHole hole) => hole.Kind is "stud" or "tapped";

    private static string? SideOf(AdviceAnswer advice) => advice.Move?.Side ?? (advice.Holes.Count > 0 ? advice.Holes[0].Side : null);

    private static JointHoleState State((SideHole Part, SideHole Mate) pair, JointHole hole, BoltUpAnswer answer, HoleAnswer left, bool partIsA)
    {
        var (sin, cos) = double.SinCos(answer.Move.RotationDegrees * (Math.PI / 180));
        var (x, y) = (answer.Move.X + (cos * hole.B.X) - (sin * hole.B.Y), answer.Move.Y + (sin * hole.B.X) + (cos * hole.B.Y));
        return new JointHoleState(
            hole.Name,
            Now(pair.Part),
            Now(pair.Mate),
            hole.Fastener,
            left.Allowance,
            left.ClearanceLeft,
            x - hole.A.X,
            y - hole.A.Y,
            answer.Limiting.Contains(hole.Name));
    }

    private static HoleNow Now(SideHole hole) => new(
        hole.Now.X!.Value,
        hole.Now.Y!.Value,
        hole.Now.Diameter,
        hole.Now.Slot?.Travel ?? 0,
        hole.Now.Slot?.AngleDegrees ?? 0,
        hole.Now.Detail,
        hole.Measured,
        hole.Drawn.X!.Value,
        hole.Drawn.Y!.Value);
}
