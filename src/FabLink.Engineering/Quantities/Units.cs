namespace FabLink.Engineering.Quantities;

/// <summary>
/// Conversion to and from the base units: decimal millimetres for lengths, decimal arc-seconds for angles.
/// Exact for every unit but the radian (1 in = 25.4 mm by definition, 1° = 3600″), as long as the number has at most
/// <see cref="NumberText.MostDigits"/> digits.
/// </summary>
public static class Units
{
    // 648000 / π to as many digits as a decimal holds; the radian is the one unit here that no decimal can hold exactly.
    private const decimal ArcSecondsPerRadian = 206264.80624709635515647335733m;

    public static bool IsLength(Unit unit) => unit is Unit.Millimetre or Unit.Micrometre or Unit.Inch or Unit.Mil;

    public static bool IsAngle(Unit unit) => unit is Unit.Degree or Unit.DegreeMinuteSecond or Unit.Radian;

    /// <summary>Can a number in one unit be said in the other? Lengths among themselves, angles among themselves.</summary>
    public static bool AreOfOneKind(Unit one, Unit other) =>
        IsLength(one) ? IsLength(other) : IsAngle(one) ? IsAngle(other) : other == Unit.None;

    /// <summary>The unit as a drawing writes it behind a number; empty for <see cref="Unit.None"/>.</summary>
    public static string Symbol(Unit unit) => unit switch
    {
        Unit.Millimetre => "mm",
        Unit.Micrometre => "µm",
        Unit.Inch => "in",
        Unit.Mil => "mil",
        Unit.Degree => "°",
        Unit.DegreeMinuteSecond => "° ′ ″",
        Unit.Radian => "rad",
        Unit.None => "",
        _ => throw Unknown(unit),
    };

    /// <summary>Reads mm, µm (also um), in, inch, ", mil, deg, °, dms, rad; case does not matter. Empty is not a unit.</summary>
    public static bool TryParse(string? text, out Unit unit)
    {
        var found = text?.Trim().ToLowerInvariant() switch
        {
            "mm" or "millimetre" or "millimeter" => Unit.Millimetre,
            "µm" or "μm" or "um" or "micrometre" or "micrometer" => Unit.Micrometre,
            "in" or "\"" or "inch" or "in." or "″" => Unit.Inch,
            "mil" or "thou" => Unit.Mil,
            "°" or "deg" or "degree" or "degrees" => Unit.Degree,
            "dms" or "° ′ ″" or "°'\"" => Unit.DegreeMinuteSecond,
            "rad" or "radian" => Unit.Radian,
            "none" or "-" => Unit.None,
            _ => (Unit?)null,
        };
        unit = found ?? Unit.None;
        return found is not null;
    }

    /// <summary>A number in <paramref name="unit"/> as millimetres, arc-seconds or itself.</summary>
    /// <exception cref="InputError">The result is larger than a decimal holds.</exception>
    public static decimal ToBase(decimal value, Unit unit)
    {
        try
        {
            return unit switch
            {
                Unit.Millimetre or Unit.None => value,
                Unit.Micrometre => value * 0.001m,
                Unit.Inch => value * 25.4m,
                Unit.Mil => value * 0.0254m,
                Unit.Degree or Unit.DegreeMinuteSecond => value * 3600m,
                Unit.Radian => value * ArcSecondsPerRadian,
                _ => throw Unknown(unit),
            };
        }
        catch (OverflowException)
        {
            throw new InputError("", $"{value} {Symbol(unit)} is too large.");
        }
    }

    /// <summary>Millimetres, arc-seconds or a plain number in <paramref name="unit"/>.</summary>
    /// <exception cref="InputError">The result is larger than a decimal holds.</exception>
    public static decimal FromBase(decimal value, Unit unit)
    {
        try
        {
            return unit switch
            {
                Unit.Millimetre or Unit.None => value,
                Unit.Micrometre => value * 1000m,
                Unit.Inch => value / 25.4m,
                Unit.Mil => value / 0.0254m,
                Unit.Degree or Unit.DegreeMinuteSecond => value / 3600m,
                Unit.Radian => value / ArcSecondsPerRadian,
                _ => throw Unknown(unit),
            };
        }
        catch (OverflowException)
        {
            throw new InputError("", $"{value} is too large to be said in {Symbol(unit)}.");
        }
    }

    private static InputError Unknown(Unit unit) => new("unit", $"{(int)unit} is not a unit.");
}
