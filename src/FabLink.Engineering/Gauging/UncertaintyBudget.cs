namespace FabLink.Engineering.Gauging;

/// <summary>One input of a budget.</summary>
/// <param name="Name">What it is.</param>
/// <param name="StandardUncertainty">u(x), in its own unit, not negative.</param>
/// <param name="Sensitivity">∂f/∂x.</param>
/// <param name="Degrees">ν of u(x); infinity when it is known for sure.</param>
public sealed record UncertaintyInput(string Name, double StandardUncertainty, double Sensitivity = 1, double Degrees = double.PositiveInfinity)
{
    /// <summary>|c|·u.</summary>
    public double Contribution => Math.Abs(Sensitivity) * StandardUncertainty;

    /// <summary>Anywhere within ± a alike: u = a/√3 (JCGM 100:2008, 4.3.7).</summary>
    public static UncertaintyInput Rectangular(string name, double halfWidth, double sensitivity = 1, double degrees = double.PositiveInfinity) =>
        new(name, halfWidth / Math.Sqrt(3), sensitivity, degrees);

    /// <summary>A cycle of amplitude a (arcsine): u = a/√2 (JCGM 100:2008, H.1.3.4).</summary>
    public static UncertaintyInput Cyclic(string name, double amplitude, double sensitivity = 1, double degrees = double.PositiveInfinity) =>
        new(name, amplitude / Math.Sqrt(2), sensitivity, degrees);

    /// <summary>The product of two inputs whose estimates are zero has no first-order term; this is its second-order one (JCGM 100:2008, 5.1.2 note).</summary>
    public static UncertaintyInput Product(string name, double first, double second, double sensitivity) =>
        new(name, first * second, sensitivity);
}

/// <param name="Combined">u_c.</param>
/// <param name="EffectiveDegrees">Welch-Satterthwaite, not cut off.</param>
/// <param name="CoverageFactor">k for the asked probability, at the effective degrees cut off to a whole number.</param>
/// <param name="Expanded">U = k·u_c.</param>
/// <param name="Sources">JCGM 100.</param>
public sealed record UncertaintyAnswer(double Combined, double EffectiveDegrees, double CoverageFactor, double Expanded, IReadOnlyList<string> Sources);

/// <summary>JCGM 100:2008 (GUM): independent inputs added in squares, coverage by Student's t at the effective degrees of freedom.</summary>
public static class UncertaintyBudget
{
    /// <param name="inputs">At least one, names unique.</param>
    /// <param name="probability">Coverage, e.g. 0.95.</param>
    /// <exception cref="InputError">Empty, a name twice, a number that cannot be; the row is named.</exception>
    public static UncertaintyAnswer Combine(IReadOnlyList<UncertaintyInput> inputs, double probability = 0.95)
    {
        if (inputs.Count == 0)
            throw new InputError("inputs", "A budget needs at least one input.");
        var names = new HashSet<string>(StringComparer.Ordinal);
        var (variance, welch) = (0.0, 0.0);
        for (var row = 0; row < inputs.Count; row++)
        {
            var input = inputs[row];
            if (!names.Add(input.Name))
                throw new InputError($"inputs/{row}/name", $"Input {input.Name} is there twice.");
            Finite.RequireNotNegative(input.StandardUncertainty, $"inputs/{row}/standardUncertainty");
            Finite.Require(input.Sensitivity, $"inputs/{row}/sensitivity");
            if (!(input.Degrees > 0))
                throw new InputError($"inputs/{row}/degrees", $"Input {input.Name}: degrees of freedom are above zero.");
            var square = input.Contribution * input.Contribution;
            variance += square;
            welch += square * square / input.Degrees;
        }

        var effective = welch == 0 ? double.PositiveInfinity : variance * variance / welch;
        var k = Distributions.StudentCoverage(probability, effective < 1 ? effective : Math.Floor(effective));
        var combined = Math.Sqrt(variance);
        return new UncertaintyAnswer(combined, effective, k, k * combined, ["JCGM 100:2008, 5.1.2 and G.4.1"]);
    }
}
