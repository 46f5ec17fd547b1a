namespace FabLink.Engineering.Quantities;

/// <summary>A measured value as text in a unit: a number, or D M S where the unit is one of angle.</summary>
public static class ValueText
{
    /// <returns>In base units.</returns>
    /// <exception cref="InputError">Not a value in that unit; the message says why.</exception>
    public static decimal Parse(string? text, Unit unit, string field) =>
        TryParse(text, unit, out var value, out var refusal) ? value : throw new InputError(field, refusal!);

    public static bool TryParse(ReadOnlySpan<char> text, Unit unit, out decimal baseValue, out string? refusal)
    {
        if (Units.IsAngle(unit) && AngleText.HasSigns(text))
            return AngleText.TryParse(text, out baseValue, out refusal);
        baseValue = 0;
        if (!NumberText.TryParse(text, out var number, out refusal))
            return false;
        try
        {
            baseValue = Units.ToBase(number, unit);
            return true;
        }
        catch (InputError tooLarge)
        {
            refusal = tooLarge.Message;
            return false;
        }
    }
}
