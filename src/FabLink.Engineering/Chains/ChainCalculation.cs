namespace FabLink.Engineering.Chains;

/// <summary>The closing dimension of a linear chain by worst case, root sum square and simulation, and what is left for the links
/// that are still to be made.</summary>
public static class ChainCalculation
{
    public const int MostSamples = 10_000_000;
    public const int MostLinks = 1_000;

    /// <summary>Links times samples: about a second of one processor.</summary>
    public const long MostDraws = 200_000_000;

    /// <param name="request">See <see cref="ChainRequest"/>.</param>
    /// <param name="threads">At most so many at once, −1 for as many as there are processors. Never changes the answer.</param>
    /// <param name="cancellation">Ends the simulation early with an <see cref="OperationCanceledException"/>.</param>
    /// <exception cref="InputError">Names the link and the field.</exception>
    public static ChainAnswer Run(ChainRequest request, int threads = -1, CancellationToken cancellation = default)
    {
        var cautions = new List<string>();
        var links = request.Links ?? [];
        CheckCommon(links.Count, request.Required, request.Samples, request.Inflation);
        CheckNames([.. links.Select(l => l?.Name)]);

        var variables = new Variable[links.Count];
        var sensitivities = new double[links.Count];
        for (var i = 0; i < links.Count; i++)
        {
            try
            {
                variables[i] = Variable.Of(links[i].Name, links[i], cautions);
                sensitivities[i] = Finite.Require(links[i].Sensitivity, "sensitivity");
                if (sensitivities[i] == 0)
                    throw new InputError("sensitivity", $"{links[i].Name} has sensitivity 0 and is no link of this chain.");
            }
            catch (InputError error)
            {
                throw error.Within($"links/{i}");
            }
        }

        double nominal = 0, expected = 0;
        for (var i = 0; i < links.Count; i++)
        {
            nominal += sensitivities[i] * variables[i].Drawn;
            expected += sensitivities[i] * variables[i].Middle;
        }
        Finite.Require(expected, "links");

        var closure = new LinearClosure(expected, variables, sensitivities);
        var worst = closure.WorstCase;
        var half = closure.RootSumSquareHalf;
        return new ChainAnswer(
            nominal,
            expected,
            State(variables),
            worst,
            Bounds.About(expected, half),
            Bounds.About(expected, request.Inflation * half),
            request.Inflation,
            request.Required,
            closure.Closes(request.Required),
            request.Samples == 0
                ? null
                : MonteCarlo.Linear(expected, variables, sensitivities, request.Required, request.Samples, request.Seed, threads, cancellation),
            closure.Contributions(),
            request.Required is { } required
                ? [.. Enumerable.Range(0, variables.Length).Where(i => !variables[i].Measured).Select(i => closure.Room(i, required))]
                : [],
            Sources(request.Inflation),
            [.. cautions, .. CommonCautions(variables, request.Samples)]);
    }

    internal static void CheckCommon(int links, RequiredLimits? required, int samples, double inflation)
    {
        if (links == 0)
            throw new InputError("links", "A chain needs at least one link.");
        if (links > MostLinks)
            throw new InputError("links", $"A chain has at most {MostLinks} links, not {links}.");
        required?.Check();
        if (samples is < 0 or > MostSamples)
            throw new InputError("samples", $"Samples must be 0 to {MostSamples}, not {samples}.");
        if ((long)samples * links > MostDraws)
            throw new InputError("samples", $"{samples} samples of {links} links are more than {MostDraws} draws; ask for fewer samples.");
        if (!(inflation >= 1 && double.IsFinite(inflation)))
            throw new InputError("inflation", $"The inflation factor must be 1 or more, not {inflation}.");
    }

    internal static void CheckNames(string?[] names)
    {
        var seen = new Dictionary<string, int>(StringComparer.Ordinal);
        for (var i = 0; i < names.Length; i++)
        {
            if (string.IsNullOrWhiteSpace(names[i]))
                throw new InputError($"links/{i}/name", $"Link {i + 1} has no name.");
            if (!seen.TryAdd(names[i]!, i))
                throw new InputError($"links/{i}/name", $"Links {seen[names[i]!] + 1} and {i + 1} are both named '{names[i]}'.");
        }
    }

    internal static string State(Variable[] variables)
    {
        var open = variables.Count(v => !v.Measured && !v.IsExact);
        return !Array.Exists(variables, v => v.Measured) ? "as drawn" : open > 0 ? "as built so far" : "as built";
    }

    internal static IReadOnlyList<string> Sources(double inflation) =>
    [
        "Worst case: sum of |sensitivity| × half tolerance about the middle of the limits (common practice).",
        "Root sum square: JCGM 100:2008, 5.1.2, applied to half tolerances.",
        $"Inflated root sum square: factor {inflation} on the half width (A. Bender, SAE paper 680490, 1968, gives 1.5).",
        "Monte Carlo: JCGM 101:2008; yield with the 95 % Wilson score interval (Wilson, JASA 22, 1927).",
    ];

    internal static IEnumerable<string> CommonCautions(Variable[] variables, int samples)
    {
        yield return "Links are taken as independent of each other; the root sum square needs processes that stay centred.";
        if (samples > 0 && Array.Exists(variables, v => !v.Measured && !v.IsExact && v.Distribution == Distribution.Normal))
            yield return "Normal links are not cut off at their limits: a few samples lie outside them.";
        if (Array.Exists(variables, v => v.Measured && !v.IsExact))
            yield return "For worst case and root sum square a measured link is its value ± 2 u.";
    }
}
