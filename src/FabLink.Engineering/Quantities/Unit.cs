namespace FabLink.Engineering.Quantities;

/// <summary>The units a person may write a dimension in. Lengths and angles never convert into each other.</summary>
public enum Unit
{
    Millimetre,
    Micrometre,
    Inch,
    Mil,
    Degree,

    /// <summary>Degrees, minutes and seconds of arc; a bare number counts as degrees.</summary>
    DegreeMinuteSecond,
    Radian,

    /// <summary>A plain number: hardness, count, ratio.</summary>
    None,
}
