using FabLink.Engineering.Quantities;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>
/// Does a value that is far outside its limits fall near its nominal when it is read in another unit, or with its decimal
/// mark or its sign elsewhere? Then a person should look before a nonconformance is opened.
/// </summary>
internal static class OtherUnit
{
    private static readonly (decimal Factor, string Meant)[] InUnits = [(25.4m, "in inches"), (1 / 25.4m, "in millimetres")];

    private static readonly (decimal Factor, string Meant)[] Marks =
    [
        (0.1m, "with its decimal mark one place to the left"),
        (10m, "with its decimal mark one place to the right"),
        (0.01m, "with its decimal mark two places to the left"),
        (100m, "with its decimal mark two places to the right"),
        (0.001m, "with its decimal mark three places to the left"),
        (1000m, "with its decimal mark three places to the right"),
    ];

    /// <returns>The reading that would be near, like “in inches”; null when none is or the value is near as it stands.</returns>
    public static string? Near(ExpectedCharacteristic characteristic, decimal value)
    {
        if (value == 0 || (characteristic.Nominal ?? characteristic.Limits.Middle) is not { } target || target == 0)
            return null;
        // Wide enough for a bad part, far narrower than a factor of 25.
        var near = Math.Max(characteristic.Limits.Width ?? 0, Math.Abs(target) * 0.1m);
        if (characteristic.Limits.Contains(value) || Math.Abs(value - target) <= near || Math.Abs(value) > 1e20m)
            return null;
        if (Math.Abs(-value - target) <= near)
            return "with the other sign";
        foreach (var (factor, meant) in Units.IsLength(characteristic.Unit) ? [.. InUnits, .. Marks] : Marks)
        {
            if (Math.Abs(value * factor - target) <= near)
                return meant;
        }

        return null;
    }
}
