namespace FabLink.Engineering.Tolerances;

/// <summary>
/// ASME Y14.5-2018, Appendix B: position tolerances that let a fastener pass, from the sizes at maximum material
/// (H the smallest clearance hole, F the largest fastener), in mm, both ways round. Perfect orientation, no projected zone unless stated.
/// </summary>
public static class Fasteners
{
    public const string Source = "ASME Y14.5-2018, Appendix B";

    /// <summary>Floating (bolt and nut, clearance in every part): T = H − F, for each part.</summary>
    public static decimal FloatingTolerance(decimal hole, decimal fastener) => Positive(hole - Checked(fastener, "fastener"), hole, fastener);

    /// <summary>Floating: H = F + T.</summary>
    public static decimal FloatingHole(decimal tolerance, decimal fastener) => Checked(fastener, "fastener") + NotNegative(tolerance, "tolerance");

    /// <summary>Fixed (stud or tapped hole in one part): T = (H − F)/2 for each, shared evenly.</summary>
    public static decimal FixedTolerance(decimal hole, decimal fastener) => Positive(hole - Checked(fastener, "fastener"), hole, fastener) / 2;

    /// <summary>Fixed, shared unevenly: what is left to the clearance hole when the thread takes <paramref name="threadTolerance"/>.</summary>
    /// <exception cref="InputError">The thread takes more than there is.</exception>
    public static decimal FixedTolerance(decimal hole, decimal fastener, decimal threadTolerance)
    {
        var rest = Positive(hole - Checked(fastener, "fastener"), hole, fastener) - NotNegative(threadTolerance, "threadTolerance");
        return rest >= 0 ? rest : throw new InputError("threadTolerance", $"The thread's tolerance {threadTolerance} is more than the clearance {hole - fastener}.");
    }

    /// <summary>Fixed: H = F + T1 + T2 with a projected zone on the thread.</summary>
    public static decimal FixedHole(decimal fastener, decimal clearanceTolerance, decimal threadTolerance) =>
        Checked(fastener, "fastener") + NotNegative(clearanceTolerance, "clearanceTolerance") + NotNegative(threadTolerance, "threadTolerance");

    /// <summary>
    /// Fixed without a projected zone: H = F + T1 + T2·(1 + 2P/D), since the fastener may lean within its thread.
    /// </summary>
    /// <param name="fastener">F.</param>
    /// <param name="clearanceTolerance">T1, of the clearance hole.</param>
    /// <param name="threadTolerance">T2, of the thread.</param>
    /// <param name="projection">P, how far the fastener stands out: the thickness of the part with the clearance hole.</param>
    /// <param name="engagement">D, the depth of the thread; above zero.</param>
    public static decimal FixedHoleWithoutProjection(
        decimal fastener, decimal clearanceTolerance, decimal threadTolerance, decimal projection, decimal engagement) =>
        FixedHole(fastener, clearanceTolerance, 0)
        + NotNegative(threadTolerance, "threadTolerance") * (1 + 2 * NotNegative(projection, "projection") / Checked(engagement, "engagement"));

    /// <summary>The same the other way round: T1 = H − F − T2·(1 + 2P/D), what is left to the clearance hole.</summary>
    /// <exception cref="InputError">The leaning thread takes more than there is.</exception>
    public static decimal FixedToleranceWithoutProjection(decimal hole, decimal fastener, decimal threadTolerance, decimal projection, decimal engagement)
    {
        var takes = NotNegative(threadTolerance, "threadTolerance") * (1 + 2 * NotNegative(projection, "projection") / Checked(engagement, "engagement"));
        var rest = Positive(hole - Checked(fastener, "fastener"), hole, fastener) - takes;
        return rest >= 0 ? rest : throw new InputError("threadTolerance", $"Without a projected zone the thread takes {takes}, more than the clearance {hole - fastener}.");
    }

    /// <summary>The same shared evenly, T1 = T2 = T: T = (H − F)/(2 + 2P/D).</summary>
    public static decimal FixedToleranceWithoutProjection(decimal hole, decimal fastener, decimal projection, decimal engagement) =>
        Positive(hole - Checked(fastener, "fastener"), hole, fastener) / (2 + 2 * NotNegative(projection, "projection") / Checked(engagement, "engagement"));

    private static decimal Positive(decimal clearance, decimal hole, decimal fastener) => clearance >= 0
        ? clearance
        : throw new InputError("hole", $"A fastener of {fastener} does not pass a hole of {hole}.");

    private static decimal Checked(decimal size, string field) =>
        size > 0 ? size : throw new InputError(field, $"{field} must be greater than zero, not {size}.");

    private static decimal NotNegative(decimal size, string field) =>
        size >= 0 ? size : throw new InputError(field, $"{field} must not be negative: {size}.");
}
