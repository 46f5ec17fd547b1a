using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Judging;

/// <summary>
/// ISO 14253-1: limits with their guard worked in, so that a value needs comparisons only. Proven inside the shrunk zone, disproven outside
/// the widened one, undecided between; a guard of zero is simple acceptance. The shrunk zone is empty when the guard is too wide.
/// </summary>
public readonly record struct AcceptanceZone
{
    private readonly decimal? acceptFrom;
    private readonly decimal? acceptTo;
    private readonly decimal? rejectBelow;
    private readonly decimal? rejectAbove;

    private AcceptanceZone(in Limits limits, decimal guard)
    {
        (acceptFrom, acceptTo) = (limits.Lower + guard, limits.Upper - guard);
        (rejectBelow, rejectAbove) = (limits.Lower - guard, limits.Upper + guard);
    }

    /// <param name="limits">In base units.</param>
    /// <param name="guard">In the same, not negative.</param>
    /// <exception cref="InputError">The guard is negative.</exception>
    public static AcceptanceZone Around(in Limits limits, decimal guard) => guard >= 0
        ? new(limits, guard)
        : throw new InputError("guard", $"A guard must not be negative: {guard}.");

    public Verdict Judge(decimal value)
    {
        if (!(value < acceptFrom) && !(value > acceptTo))
            return Verdict.Conforms;
        return value < rejectBelow || value > rejectAbove ? Verdict.DoesNotConform : Verdict.NotProven;
    }
}
