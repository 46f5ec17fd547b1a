using System.Globalization;

namespace FabLink.Engineering.Tests;

/// <summary>
/// How often the property tests try: FABLINK_FUZZ=10 tries ten times as often. A failure prints its seed; CsCheck_Seed=… in the environment
/// repeats it.
/// </summary>
internal static class Fuzz
{
    private static readonly int Factor =
        int.TryParse(Environment.GetEnvironmentVariable("FABLINK_FUZZ"), NumberStyles.None, CultureInfo.InvariantCulture, out var factor) && factor > 0 ? factor : 1;

    public static int Times(int usual) => usual * Factor;
}
