namespace FabLink.Engineering.Tolerances;

/// <summary>The circle behind a geometric tolerance.</summary>
public enum MaterialCondition
{
    /// <summary>Regardless of feature size.</summary>
    None,

    /// <summary>Ⓜ maximum material.</summary>
    Maximum,

    /// <summary>Ⓛ least material.</summary>
    Least,
}

/// <summary>A hole or a pin with both its limits of size.</summary>
/// <param name="Lower">mm.</param>
/// <param name="Upper">mm.</param>
/// <param name="IsInternal">A hole (slot) rather than a pin (tab).</param>
public sealed record FeatureOfSize(decimal Lower, decimal Upper, bool IsInternal)
{
    public decimal Upper { get; } = Upper >= Lower && Lower > 0
        ? Upper
        : throw new InputError("size", $"Limits of size must be above zero and in order: {Lower} to {Upper}.");

    public decimal MaximumMaterial => IsInternal ? Lower : Upper;

    public decimal LeastMaterial => IsInternal ? Upper : Lower;

    /// <summary>
    /// ASME Y14.5-2018, ISO 2692: what the departure from the modified material limit adds to the tolerance, never below zero nor above the
    /// size tolerance. <paramref name="measured"/> is the mating envelope (largest pin that fits, smallest ring), not a local size.
    /// </summary>
    public decimal Bonus(MaterialCondition modifier, decimal measured) => modifier switch
    {
        MaterialCondition.Maximum => Clamp(IsInternal ? measured - Lower : Upper - measured),
        MaterialCondition.Least => Clamp(IsInternal ? Upper - measured : measured - Lower),
        _ => 0,
    };

    /// <summary>The boundary that the feature never crosses: for a hole at maximum material its smallest size less the tolerance.</summary>
    public decimal? VirtualCondition(MaterialCondition modifier, decimal tolerance) => modifier switch
    {
        MaterialCondition.Maximum => IsInternal ? MaximumMaterial - tolerance : MaximumMaterial + tolerance,
        MaterialCondition.Least => IsInternal ? LeastMaterial + tolerance : LeastMaterial - tolerance,
        _ => null,
    };

    /// <summary>The other extreme: for a hole at maximum material its largest size plus the tolerance and the whole bonus.</summary>
    public decimal? ResultantCondition(MaterialCondition modifier, decimal tolerance)
    {
        var all = tolerance + (Upper - Lower);
        return modifier switch
        {
            MaterialCondition.Maximum => IsInternal ? LeastMaterial + all : LeastMaterial - all,
            MaterialCondition.Least => IsInternal ? MaximumMaterial - all : MaximumMaterial + all,
            _ => null,
        };
    }

    public bool Holds(decimal measured) => measured >= Lower && measured <= Upper;

    private decimal Clamp(decimal bonus) => Math.Clamp(bonus, 0, Upper - Lower);
}
