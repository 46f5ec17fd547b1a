namespace FabLink.Engineering;

/// <summary>Guards at the edge of the library: a number that is not a number never gets further.</summary>
internal static class Finite
{
    public static double Require(double value, string field) =>
        double.IsFinite(value) ? value : throw new InputError(field, $"{field} must be a finite number.");

    public static double RequirePositive(double value, string field) =>
        Require(value, field) > 0 ? value : throw new InputError(field, $"{field} must be greater than zero.");

    public static double RequireNotNegative(double value, string field) =>
        Require(value, field) >= 0 ? value : throw new InputError(field, $"{field} must not be negative.");
}
