namespace FabLink.Engineering.Chains;

/// <summary>Closing measure of a planar vector loop: exact, to first order, by corners and by simulation.</summary>
public static class VectorLoopCalculation
{
    public const int MostSamples = 1_000_000;
    public const int MostLinks = 100;

    /// <summary>With more varying values than this, what is left for each is given to first order only.</summary>
    private const int MostSolved = 24;

    /// <param name="request">See <see cref="VectorLoopRequest"/>.</param>
    /// <param name="threads">At most so many at once, −1 for as many as there are processors. Never changes the answer.</param>
    /// <param name="cancellation">Ends the simulation early with an <see cref="OperationCanceledException"/>.</param>
    /// <exception cref="InputError">Names the link and the field.</exception>
    public static VectorLoopAnswer Run(VectorLoopRequest request, int threads = -1, CancellationToken cancellation = default)
    {
        var links = request.Links ?? [];
        ChainCalculation.CheckCommon(links.Count, request.Required, request.Samples, request.Inflation);
        if (links.Count > MostLinks)
            throw new InputError("links", $"A vector loop has at most {MostLinks} links, not {links.Count}.");
        if (request.Samples > MostSamples)
            throw new InputError("samples", $"Samples must be 0 to {MostSamples}, not {request.Samples}.");
        ChainCalculation.CheckNames([.. links.Select(l => l?.Name)]);
        var cautions = new List<string>();
        if (request.Unknowns is { Count: > 0 })
            return UnknownsOfLoop.Run(request, [.. links.SelectMany((link, i) => Values(link, i, cautions))], cautions, threads, cancellation);
        var closing = request.Closing switch
        {
            "x" => ClosingMeasure.X,
            "y" => ClosingMeasure.Y,
            "length" => ClosingMeasure.Length,
            "angle" => ClosingMeasure.Angle,
            _ => throw new InputError("closing", $"What closes is x, y, length or angle, not '{request.Closing}'."),
        };

        var variables = links.SelectMany((link, i) => Values(link, i, cautions)).ToArray();
        var loop = new PlanarLoop([.. links.Select(l => l.Relative)], closing);
        double[] drawn = [.. variables.Select(v => v.Drawn)];
        double[] middles = [.. variables.Select(v => v.Middle)];
        var nominal = loop.Close(drawn);
        var expected = loop.Close(middles, nominal);
        var sensitivities = loop.Sensitivities(middles);

        var linear = new LinearClosure(expected, variables, sensitivities);
        var extremes = new LoopExtremes(loop, variables, sensitivities, expected);
        var quick = new LoopExtremes(loop, variables, sensitivities, expected, LoopExtremes.MostEnumeratedOften);
        var solved = variables.Count(v => v.Half > 0) <= MostSolved;
        var corners = extremes.Corners();
        var inside = extremes.Inside();
        var half = linear.RootSumSquareHalf;
        return new VectorLoopAnswer(
            request.Closing,
            closing == ClosingMeasure.Angle ? "°" : request.LengthUnit,
            nominal,
            expected,
            ChainCalculation.State(variables),
            linear.WorstCase,
            corners,
            inside,
            Bounds.About(expected, half),
            Bounds.About(expected, request.Inflation * half),
            request.Inflation,
            request.Required,
            request.Required is { } limits ? inside.Lower >= limits.Low - linear.Slack && inside.Upper <= limits.High + linear.Slack : null,
            request.Samples == 0
                ? null
                : MonteCarlo.Exact(
                    expected,
                    variables,
                    (deviations, samples, results) => loop.Close(middles, expected, deviations, samples, results),
                    request.Required,
                    request.Samples,
                    request.Seed,
                    threads,
                    cancellation),
            [.. linear.Contributions().Where((_, i) => !variables[i].IsExact)],
            request.Required is { } required
                ? [.. Enumerable.Range(0, variables.Length)
                    .Where(i => !variables[i].Measured && !variables[i].IsExact && sensitivities[i] != 0)
                    .Select(i => solved ? LoopRoom.Of(quick, linear, variables, i, required) : linear.Room(i, required))]
                : [],
            [.. loop.Joints(middles).Select(j => (double[])[j.X, j.Y])],
            [
                "Closing vector: sum of the links as vectors; sensitivities are its derivatives at the expected values.",
                .. ChainCalculation.Sources(request.Inflation),
            ],
            [.. cautions, .. ChainCalculation.CommonCautions(variables, request.Samples), .. Cautions(extremes, corners, inside, linear.Slack, solved)]);
    }

    private static IEnumerable<Variable> Values(VectorLink link, int index, List<string> cautions)
    {
        yield return Value(link.Name, "length", link.Length, index, cautions);
        yield return Value(link.Name, "direction", link.Direction, index, cautions);
    }

    private static Variable Value(string name, string field, TolerancedValue? value, int index, List<string> cautions)
    {
        var path = $"links/{index}/{field}";
        if (value is null)
            throw new InputError(path, $"Link {name} has no {field}.");
        try
        {
            var variable = Variable.Of($"{name} {field}", value, cautions);
            if (field == "length" && variable.Lower < 0)
                throw new InputError("nominal", $"The length of {name} can become negative; turn its direction by 180° instead.");
            if (field == "direction" && variable.Half > 90)
                throw new InputError("upper", $"The direction of {name} spreads over more than half a turn.");
            return variable;
        }
        catch (InputError error)
        {
            throw error.Within(path);
        }
    }

    private static IEnumerable<string> Cautions(LoopExtremes extremes, Bounds corners, Bounds inside, double slack, bool solved)
    {
        if (!extremes.IsExhaustive)
            yield return $"More than {LoopExtremes.MostEnumerated} values vary: corners were searched, not all tried.";
        if (!solved)
            yield return $"More than {MostSolved} values vary: what is left for each is given to first order.";
        if (inside.Lower < corners.Lower - slack || inside.Upper > corners.Upper + slack)
            yield return "The extremes do not lie at corners: a link passes through its extreme direction within its limits.";
    }
}
