namespace FabLink.Engineering.Tolerances;

/// <summary>The limits of a requirement in base units (mm, arc-seconds or plain); null where that side is open.</summary>
/// <exception cref="InputError">The lower limit is above the upper one.</exception>
public readonly record struct Limits(decimal? Lower, decimal? Upper)
{
    public decimal? Upper { get; } = Lower > Upper
        ? throw new InputError("limits", $"The lower limit {Lower} is above the upper limit {Upper}.")
        : Upper;

    /// <summary>The width of the tolerance zone; null when one side is open.</summary>
    public decimal? Width => Upper - Lower;

    /// <summary>The middle of the tolerance zone; null when one side is open.</summary>
    public decimal? Middle => (Upper + Lower) / 2;

    public bool Contains(decimal value) => !(value < Lower) && !(value > Upper);
}
