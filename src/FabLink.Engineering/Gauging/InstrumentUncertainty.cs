namespace FabLink.Engineering.Gauging;

/// <summary>
/// Expanded uncertainty (k = 2) as a number, or growing with the measured length:
/// U(L) = Constant + PerStep · L / Step, the quotient rounded up where the maker states it per started step.
/// </summary>
/// <param name="Constant">In base units of what is measured (mm or arc-seconds).</param>
/// <param name="PerStep">Added for every step of length, in the same unit; 0 for a plain number.</param>
/// <param name="Step">The step in mm; above zero.</param>
/// <param name="RoundedUp">Does a started step count whole?</param>
public readonly record struct InstrumentUncertainty(decimal Constant, decimal PerStep = 0, decimal Step = 1000, bool RoundedUp = false)
{
    /// <param name="length">The measured length in mm; its sign does not matter.</param>
    /// <exception cref="InputError">The uncertainty is negative or its step is not above zero.</exception>
    public decimal At(decimal length)
    {
        if (Constant < 0 || PerStep < 0)
            throw new InputError("uncertainty", "An uncertainty must not be negative.");
        if (Step <= 0)
            throw new InputError("uncertainty", "The step of an uncertainty per length must be above zero.");
        var steps = Math.Abs(length) / Step;
        return Constant + PerStep * (RoundedUp ? Math.Ceiling(steps) : steps);
    }
}
