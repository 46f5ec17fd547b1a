using System.Globalization;
using FabLink.Engineering.Quantities;

namespace FabLink.Engineering.Tolerances;

/// <summary>One number of a requirement: exact in base units, and as it was written (decimal mark, zeros, D M S).</summary>
public readonly record struct Figure(decimal Base, string Written)
{
    /// <summary>A number as a drawing in that unit would write it.</summary>
    public static Figure Of(decimal value, Unit unit) =>
        new(Units.ToBase(value, unit), unit switch
        {
            Unit.Degree => Plain(value) + "°",
            Unit.DegreeMinuteSecond => AngleText.Format(Units.ToBase(value, unit)),
            _ => Plain(value),
        });

    /// <summary>The same with its sign in front, as deviations are written; zero has none.</summary>
    internal string Signed => Base > 0 && Written[0] != '+' ? "+" + Written : Written;

    /// <summary>Without sign: the number behind ±.</summary>
    internal string Unsigned => Written.TrimStart('+', '-');

    internal Figure Negated() => new(-Base, Base > 0 ? "-" + Unsigned : Unsigned);

    public override string ToString() => Written;

    private static string Plain(decimal value) => value.ToString(CultureInfo.InvariantCulture);
}
