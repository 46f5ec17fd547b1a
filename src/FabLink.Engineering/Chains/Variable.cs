namespace FabLink.Engineering.Chains;

/// <summary>How the pieces of one link scatter between its limits.</summary>
internal enum Distribution
{
    Normal,
    Uniform,
    Triangular,
}

/// <summary>A size or a direction as it stands now: as drawn, measured, or exact. <see cref="Drawn"/> is the nominal of the
/// drawing; <see cref="Middle"/> is the middle of the limits, or the measured value; <see cref="Lower"/> and <see cref="Upper"/>
/// are values, not deviations.</summary>
internal readonly record struct Variable(
    string Name, double Drawn, double Middle, double Lower, double Upper, Distribution Distribution, double StandardDeviation, bool Measured)
{
    /// <summary>Expanded uncertainty U = k·u of a measured value with k = 2 (JCGM 100:2008, 6.3): it stands for the limits that a
    /// measured value no longer has.</summary>
    public const double CoverageFactor = 2;

    public double Half => (Upper - Lower) / 2;

    public bool IsExact => Upper <= Lower && StandardDeviation == 0;

    /// <summary>Half width of the distribution for uniform and triangular, standard deviation for normal: what a draw from the
    /// unit distribution is multiplied by.</summary>
    public double DrawScale => Distribution == Distribution.Normal ? StandardDeviation : Half;

    /// <param name="name">For cautions.</param>
    /// <param name="value">As the person gave it.</param>
    /// <param name="cautions">Receives what the person should know about this value.</param>
    /// <exception cref="InputError">The field is named relative to the value.</exception>
    public static Variable Of(string name, TolerancedValue value, ICollection<string> cautions)
    {
        var nominal = Finite.Require(value.Nominal ?? throw new InputError("nominal", $"{name} has no nominal."), "nominal");
        if ((value.Lower is null) != (value.Upper is null))
            throw new InputError(value.Lower is null ? "lower" : "upper", $"{name} has only one of its two deviations; give lower and upper.");
        var (lower, upper) = (Finite.Require(value.Lower ?? 0, "lower"), Finite.Require(value.Upper ?? 0, "upper"));
        if (lower > upper)
            throw new InputError("lower", $"The deviations of {name} are reversed: {lower} is above {upper}.");
        var k = Finite.RequirePositive(value.Sigma, "sigma");
        var distribution = value.Distribution switch
        {
            "normal" => Distribution.Normal,
            "uniform" => Distribution.Uniform,
            "triangular" => Distribution.Triangular,
            _ => throw new InputError("distribution", $"{name}: distribution is normal, uniform or triangular, not '{value.Distribution}'."),
        };

        if (value.Measured is { } measured)
            return OfMeasured(name, value, Finite.Require(measured, "measured"), cautions);
        if (value.StandardUncertainty is not null)
            throw new InputError("standardUncertainty", $"{name} has an uncertainty but no measured value.");

        var half = (upper - lower) / 2;
        return new Variable(
            name,
            nominal,
            nominal + ((lower + upper) / 2),
            nominal + lower,
            nominal + upper,
            distribution,
            distribution switch
            {
                Distribution.Uniform => half / Math.Sqrt(3),
                Distribution.Triangular => half / Math.Sqrt(6),
                _ => half / k,
            },
            Measured: false);
    }

    private static Variable OfMeasured(string name, TolerancedValue value, double measured, ICollection<string> cautions)
    {
        var u = Finite.RequireNotNegative(value.StandardUncertainty ?? 0, "standardUncertainty");
        if (value.StandardUncertainty is null)
            cautions.Add($"{name} was measured without a stated uncertainty and is taken as exact.");
        var nominal = value.Nominal!.Value;
        if (value.Lower is { } lower && value.Upper is { } upper && (measured < nominal + lower || measured > nominal + upper))
            cautions.Add($"{name} measured {measured} lies outside its drawing limits {nominal + lower} to {nominal + upper}.");
        var expanded = CoverageFactor * u;
        return new Variable(
            name, nominal, measured, measured - expanded, measured + expanded, Distribution.Normal, u, Measured: true);
    }
}
