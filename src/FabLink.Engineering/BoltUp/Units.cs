namespace FabLink.Engineering.BoltUp;

/// <summary>The two length units of a question.</summary>
internal static class Units
{
    /// <summary>Millimetres per unit; an inch is 25.4 mm exactly (1959). Missing means mm.</summary>
    public static double Millimetres(string? unit, string field) => unit switch
    {
        null or "mm" => 1,
        "in" => 25.4,
        _ => throw new InputError(field, $"The unit \"{unit}\" is not known here; it is \"mm\" or \"in\"."),
    };
}
