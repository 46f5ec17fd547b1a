namespace FabLink.Engineering.Chains;

/// <summary>A lower and an upper value in the unit of the closing dimension.</summary>
public sealed record Bounds(double Lower, double Upper)
{
    internal static Bounds About(double middle, double half) => new(middle - half, middle + half);
}

/// <summary>What the closing dimension must keep; one side may be open (null).</summary>
public sealed record RequiredLimits(double? Lower, double? Upper)
{
    internal double Low => Lower ?? double.NegativeInfinity;

    internal double High => Upper ?? double.PositiveInfinity;

    internal void Check()
    {
        if (Lower is null && Upper is null)
            throw new InputError("required", "The closing dimension needs a lower limit, an upper limit or both.");
        if (Lower is { } low)
            Finite.Require(low, "required/lower");
        if (Upper is { } high)
            Finite.Require(high, "required/upper");
        if (Lower > Upper)
            throw new InputError("required/lower", $"The required limits are reversed: {Lower} is above {Upper}.");
    }
}
