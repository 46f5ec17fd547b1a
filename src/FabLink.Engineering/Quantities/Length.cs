namespace FabLink.Engineering.Quantities;

/// <summary>A length, exact in decimal millimetres (1 in = 25.4 mm).</summary>
public readonly record struct Length : IComparable<Length>
{
    private Length(decimal millimetres) => Millimetres = millimetres;

    public decimal Millimetres { get; }

    public decimal Micrometres => Units.FromBase(Millimetres, Unit.Micrometre);

    public decimal Inches => Units.FromBase(Millimetres, Unit.Inch);

    public decimal Mils => Units.FromBase(Millimetres, Unit.Mil);

    public static Length Zero => default;

    public static Length FromMillimetres(decimal value) => new(value);

    public static Length FromMicrometres(decimal value) => From(value, Unit.Micrometre);

    public static Length FromInches(decimal value) => From(value, Unit.Inch);

    public static Length FromMils(decimal value) => From(value, Unit.Mil);

    /// <exception cref="InputError">The unit is not one of length.</exception>
    public static Length From(decimal value, Unit unit) => Units.IsLength(unit)
        ? new(Units.ToBase(value, unit))
        : throw new InputError("unit", $"{unit} is not a unit of length.");

    public static Length operator +(Length left, Length right) => new(left.Millimetres + right.Millimetres);

    public static Length operator -(Length left, Length right) => new(left.Millimetres - right.Millimetres);

    public static Length operator -(Length length) => new(-length.Millimetres);

    public static Length operator *(Length length, decimal factor) => new(length.Millimetres * factor);

    public static bool operator <(Length left, Length right) => left.Millimetres < right.Millimetres;

    public static bool operator >(Length left, Length right) => left.Millimetres > right.Millimetres;

    public static bool operator <=(Length left, Length right) => left.Millimetres <= right.Millimetres;

    public static bool operator >=(Length left, Length right) => left.Millimetres >= right.Millimetres;

    public int CompareTo(Length other) => Millimetres.CompareTo(other.Millimetres);

    public override string ToString() => $"{Millimetres} mm";
}
