using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Gauging;

/// <param name="At20">The length at 20 °C, mm.</param>
/// <param name="Correction">What was added to the reading, mm.</param>
/// <param name="Sources">Standard and formula.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record TemperatureAnswer(decimal At20, decimal Correction, IReadOnlyList<string> Sources, IReadOnlyList<string> Cautions);

/// <summary>ISO 1:2022: dimensions mean 20 °C. A reading taken at another temperature is brought there.</summary>
public static class Temperature
{
    public const decimal Reference = 20;

    private static readonly StandardTable Table = StandardTable.Load("thermal-expansion.csv");

    public static IEnumerable<string> Materials => Table.Rows.Select(row => row[0]);

    /// <summary>Linear expansion of a material, per °C (common practice).</summary>
    /// <exception cref="InputError">Not in the table.</exception>
    public static decimal ExpansionOf(string? material) =>
        Table.Rows.FirstOrDefault(row => string.Equals(row[0], material?.Trim(), StringComparison.OrdinalIgnoreCase)) is { } row
            ? StandardTable.Number(row[1])!.Value / 1_000_000
            : throw new InputError("material", $"“{material}” is none of {string.Join(", ", Materials)}; give its coefficient instead.");

    /// <summary>
    /// L20 = reading · (1 + αi·(Ti − 20)) / (1 + αp·(Tp − 20)): the instrument's scale has grown as well, unless it is taken at 20 °C.
    /// </summary>
    /// <param name="reading">mm.</param>
    /// <param name="partTemperature">°C, −40 to 100, where the coefficient is nearly constant.</param>
    /// <param name="partExpansion">Per °C, 0 to 0.001.</param>
    /// <param name="instrumentTemperature">°C, the same range.</param>
    /// <param name="instrumentExpansion">Per °C; 0 for an instrument that corrects itself.</param>
    /// <exception cref="InputError">Outside those ranges.</exception>
    public static TemperatureAnswer To20(
        decimal reading,
        decimal partTemperature,
        decimal partExpansion,
        decimal instrumentTemperature = Reference,
        decimal instrumentExpansion = 0)
    {
        var part = 1 + Expansion(partExpansion, "partExpansion") * (Checked(partTemperature, "partTemperature") - Reference);
        var instrument = 1 + Expansion(instrumentExpansion, "instrumentExpansion") * (Checked(instrumentTemperature, "instrumentTemperature") - Reference);
        var at20 = reading * instrument / part;
        var cautions = new List<string> { "Takes the whole part as evenly warm; a part fresh from welding or from the sun is not." };
        if (instrumentExpansion == 0)
            cautions.Add("The instrument's own expansion is taken as zero.");
        return new TemperatureAnswer(at20, at20 - reading, ["ISO 1:2022 (20 °C); L20 = L·(1 + αi·ΔTi)/(1 + αp·ΔTp)"], cautions);
    }

    private static decimal Checked(decimal temperature, string field) => temperature is >= -40 and <= 100
        ? temperature
        : throw new InputError(field, $"{temperature} °C is outside −40 to 100 °C.");

    private static decimal Expansion(decimal coefficient, string field) => coefficient is >= 0 and <= 0.001m
        ? coefficient
        : throw new InputError(field, $"{coefficient} per °C is no coefficient of expansion (0 to 0.001); steel is 0.0000115.");
}
