namespace FabLink.Engineering.Quantities;

/// <summary>An angle, exact in decimal seconds of arc (0°20′ is 1200″).</summary>
public readonly record struct Angle : IComparable<Angle>
{
    private Angle(decimal arcSeconds) => ArcSeconds = arcSeconds;

    public decimal ArcSeconds { get; }

    public decimal Degrees => ArcSeconds / 3600;

    /// <summary>For trigonometry; a double, since no decimal holds π.</summary>
    public double Radians => (double)ArcSeconds * (Math.PI / 648000);

    public static Angle Zero => default;

    public static Angle FromArcSeconds(decimal value) => new(value);

    public static Angle FromDegrees(decimal value) => new(Units.ToBase(value, Unit.Degree));

    /// <summary>Rounded to the digits of π that a decimal holds.</summary>
    public static Angle FromRadians(decimal value) => new(Units.ToBase(value, Unit.Radian));

    /// <param name="degrees">Carries the sign of the whole; for angles between −1° and 0° negate the result instead.</param>
    /// <param name="minutes">0 to below 60.</param>
    /// <param name="seconds">0 to below 60.</param>
    /// <exception cref="InputError">Minutes or seconds are negative or 60 and more.</exception>
    public static Angle FromDegreesMinutesSeconds(int degrees, int minutes, decimal seconds = 0)
    {
        if (minutes is < 0 or >= 60)
            throw new InputError("minutes", $"{minutes} minutes: 0 to below 60 is needed.");
        if (seconds is < 0 or >= 60)
            throw new InputError("seconds", $"{seconds} seconds: 0 to below 60 is needed.");
        var parts = minutes * 60m + seconds;
        return new(degrees < 0 ? degrees * 3600m - parts : degrees * 3600m + parts);
    }

    public static Angle operator +(Angle left, Angle right) => new(left.ArcSeconds + right.ArcSeconds);

    public static Angle operator -(Angle left, Angle right) => new(left.ArcSeconds - right.ArcSeconds);

    public static Angle operator -(Angle angle) => new(-angle.ArcSeconds);

    public static Angle operator *(Angle angle, decimal factor) => new(angle.ArcSeconds * factor);

    public static bool operator <(Angle left, Angle right) => left.ArcSeconds < right.ArcSeconds;

    public static bool operator >(Angle left, Angle right) => left.ArcSeconds > right.ArcSeconds;

    public static bool operator <=(Angle left, Angle right) => left.ArcSeconds <= right.ArcSeconds;

    public static bool operator >=(Angle left, Angle right) => left.ArcSeconds >= right.ArcSeconds;

    public int CompareTo(Angle other) => ArcSeconds.CompareTo(other.ArcSeconds);

    public override string ToString() => AngleText.Format(ArcSeconds);
}
