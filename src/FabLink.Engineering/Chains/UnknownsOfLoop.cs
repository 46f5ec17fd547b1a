using FabLink.Engineering.Geometry;

namespace FabLink.Engineering.Chains;

/// <summary>The answer for a vector loop whose two unknowns are solved: the first takes the place of the closing measure.</summary>
internal static class UnknownsOfLoop
{
    /// <summary>Up to so many varying values all corners are solved exactly.</summary>
    private const int MostEnumerated = 10;

    public static VectorLoopAnswer Run(VectorLoopRequest request, Variable[] variables, List<string> cautions, int threads, CancellationToken cancellation)
    {
        var links = request.Links;
        if (request.Closing != "length")
            throw new InputError("closing", "A loop with unknowns closes on itself; leave the closing measure out.");
        if (request.Unknowns!.Count != 2)
            throw new InputError("unknowns", $"A planar loop closes by two equations: give two unknowns, not {request.Unknowns.Count}.");
        var (first, second) = (IndexOf(request, 0, variables), IndexOf(request, 1, variables));
        if (first == second)
            throw new InputError("unknowns/1", "The two unknowns are the same.");

        var scale = variables.Where((_, i) => i % 2 == 0).Sum(variable => Math.Abs(variable.Middle));
        var loop = new ClosedLoop([.. links.Select(link => link.Relative)], first, second, scale);
        var drawn = Solved(loop, [.. variables.Select(variable => variable.Drawn)]);
        double[] middles = [.. variables.Select(variable => variable.Middle)];
        (middles[first], middles[second]) = (drawn[first], drawn[second]);
        middles = Solved(loop, middles);
        var (one, other) = loop.Sensitivities(middles);
        var (linear, linearOther) = (new LinearClosure(middles[first], variables, one), new LinearClosure(middles[second], variables, other));
        var corners = Corners(loop, variables, middles, first, one, cancellation);
        var unit = UnitOf(first, request);
        var half = linear.RootSumSquareHalf;
        var simulation = request.Samples == 0 ? null : Simulated(loop, request, variables, middles, first, threads, cancellation);
        return new VectorLoopAnswer(
            variables[first].Name,
            unit,
            drawn[first],
            middles[first],
            ChainCalculation.State(variables),
            linear.WorstCase,
            corners ?? linear.WorstCase,
            corners ?? linear.WorstCase,
            Bounds.About(middles[first], half),
            Bounds.About(middles[first], request.Inflation * half),
            request.Inflation,
            request.Required,
            request.Required is { } limits ? (corners ?? linear.WorstCase).Lower >= limits.Low - linear.Slack && (corners ?? linear.WorstCase).Upper <= limits.High + linear.Slack : null,
            simulation,
            [.. linear.Contributions().Where((_, i) => !variables[i].IsExact)],
            request.Required is { } required
                ? [.. Enumerable.Range(0, variables.Length).Where(i => !variables[i].Measured && !variables[i].IsExact && one[i] != 0).Select(i => linear.Room(i, required))]
                : [],
            [.. Joints(request, middles)],
            [
                "Closed loop: both unknowns solved by Newton's method; sensitivities by the derivative of the closing (implicit function theorem).",
                .. ChainCalculation.Sources(request.Inflation),
            ],
            [
                .. cautions,
                .. ChainCalculation.CommonCautions(variables, request.Samples),
                "A loop can close in more ways than one; this is the way nearest to the values given for the unknowns.",
                .. corners is null ? [$"More than {MostEnumerated} values vary: the worst case is given to first order."] : Array.Empty<string>(),
                .. request.Required is null ? Array.Empty<string>() : ["What is left for each link is given to first order."],
            ])
        {
            Unknowns = [Told(first, drawn, middles, linear, one), Told(second, drawn, middles, linearOther, other)],
        };

        SolvedUnknown Told(int index, double[] asDrawn, double[] expected, LinearClosure closure, double[] sensitivities) => new(
            variables[index].Name,
            UnitOf(index, request),
            asDrawn[index],
            expected[index],
            closure.WorstCase,
            Bounds.About(expected[index], closure.RootSumSquareHalf),
            [.. variables.Select((variable, i) => new UnknownSensitivity(variable.Name, sensitivities[i])).Where((_, i) => !variables[i].IsExact)]);
    }

    private static string UnitOf(int index, VectorLoopRequest request) => index % 2 == 1 ? "°" : request.LengthUnit;

    private static int IndexOf(VectorLoopRequest request, int which, Variable[] variables)
    {
        var path = $"unknowns/{which}";
        var unknown = request.Unknowns![which] ?? throw new InputError(path, "An unknown names its link and field.");
        var link = request.Links.ToList().FindIndex(each => each.Name == unknown.Link);
        if (link < 0)
            throw new InputError(path + "/link", $"There is no link “{unknown.Link}”.");
        var index = unknown.Field switch
        {
            "length" => 2 * link,
            "direction" => (2 * link) + 1,
            _ => throw new InputError(path + "/field", $"The field of an unknown is length or direction, not '{unknown.Field}'."),
        };
        return variables[index].IsExact && !variables[index].Measured
            ? index
            : throw new InputError(path, $"{variables[index].Name} is unknown: give its nominal alone, as a guess.");
    }

    private static double[] Solved(ClosedLoop loop, double[] values) => loop.TrySolve(values)
        ? values
        : throw new InputError("unknowns", "The loop cannot be closed from the values given for the unknowns: no such lengths and directions were found.");

    private static Bounds? Corners(ClosedLoop loop, Variable[] variables, double[] middles, int index, double[] sensitivities, CancellationToken cancellation)
    {
        var free = Enumerable.Range(0, variables.Length).Where(i => variables[i].Half > 0).ToArray();
        if (free.Length > MostEnumerated)
            return null;
        var (least, most) = (middles[index], middles[index]);
        var values = new double[middles.Length];
        for (var corner = 0; corner < 1 << free.Length; corner++)
        {
            cancellation.ThrowIfCancellationRequested();
            middles.CopyTo(values, 0);
            for (var k = 0; k < free.Length; k++)
                values[free[k]] = (corner >> k & 1) == 1 ? variables[free[k]].Upper : variables[free[k]].Lower;
            if (!loop.TrySolve(values))
                throw new InputError("links", "Within its limits the loop cannot always be closed: at one combination of them no solution was found.");
            (least, most) = (Math.Min(least, values[index]), Math.Max(most, values[index]));
        }

        return new Bounds(least, most);
    }

    private static MonteCarloAnswer Simulated(
        ClosedLoop loop, VectorLoopRequest request, Variable[] variables, double[] middles, int index, int threads, CancellationToken cancellation)
    {
        var answer = MonteCarlo.Exact(
            middles[index],
            variables,
            (deviations, samples, results) =>
            {
                var values = new double[middles.Length];
                for (var s = 0; s < samples; s++)
                {
                    for (var i = 0; i < values.Length; i++)
                        values[i] = middles[i] + deviations[(i * samples) + s];
                    results[s] = loop.TrySolve(values) ? values[index] - middles[index] : double.NaN;
                }
            },
            request.Required,
            request.Samples,
            request.Seed,
            threads,
            cancellation);
        return double.IsFinite(answer.Mean)
            ? answer
            : throw new InputError("samples", "In some samples the loop cannot be closed at all: the unknowns cannot follow the links.");
    }

    private static IEnumerable<double[]> Joints(VectorLoopRequest request, double[] values) =>
        new PlanarLoop([.. request.Links.Select(link => link.Relative)], ClosingMeasure.X).Joints(values).Select((Vector2D joint) => (double[])[joint.X, joint.Y]);
}
