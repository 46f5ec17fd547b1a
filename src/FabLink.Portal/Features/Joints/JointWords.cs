using System.Globalization;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Joints;

/// <summary>How joints are said and drawn on pages.</summary>
public static class JointWords
{
    public static VerdictWord Mark(string verdict) => verdict switch
    {
        "bolts up" => new VerdictWord(Platform.Web.Pictures.Mark.Conforms, verdict),
        "does not bolt up" => new VerdictWord(Platform.Web.Pictures.Mark.DoesNotConform, verdict),
        _ => new VerdictWord(Platform.Web.Pictures.Mark.NotProven, verdict),
    };

    public static string Percent(double share) => share switch
    {
        > 0.9995 and < 1 => "> 99.9 %",
        > 0 and < 0.0005 => "< 0.1 %",
        _ => (100 * share).ToString("0.#", CultureInfo.InvariantCulture) + " %",
    };

    /// <summary>A length in the unit of the drawing: mm to hundredths, inches to thousandths.</summary>
    public static string Length(double mm, string unit = "mm") => unit == "in"
        ? (Math.Round(mm / 25.4, 4) + 0.0).ToString("0.####", CultureInfo.InvariantCulture).Replace('-', '−')
        : (Math.Round(mm, 2) + 0.0).ToString("0.##", CultureInfo.InvariantCulture).Replace('-', '−');

    /// <summary>The value of a dimension that leaves its limit: a length in the unit of the drawing, or an angle in degrees.</summary>
    public static string Value(FailedDimension failed, string unit) => failed.IsAngle ? $"{Length(failed.Value)}°" : WithUnit(failed.Value, unit);

    public static string WithUnit(double mm, string unit) => $"{Length(mm, unit)} {unit}";

    public static HolePattern Picture(JointFinding finding) => new(
        [.. finding.Holes.Select(hole => new HoleMark(
            hole.Name, hole.Part.DrawnX, hole.Part.DrawnY, Math.Max(hole.Allowance, 0), hole.ShiftX, hole.ShiftY, hole.Limiting, Slot(hole.Part, hole.Mate).Travel / 2, Slot(hole.Part, hole.Mate).Degrees))])
    { Unit = finding.Unit };

    public static HolePattern Picture(CorrectionBody body) => new(
        [.. body.Holes.Select(hole => new HoleMark(
            hole.Name, hole.Now.DrawnX, hole.Now.DrawnY, Math.Max(hole.Allowance, 0), hole.ShiftX, hole.ShiftY, hole.Limiting, hole.Now.SlotTravel / 2, hole.Now.SlotDegrees))])
    { Unit = body.Unit };

    private static (double Travel, double Degrees) Slot(HoleNow part, HoleNow mate) =>
        part.SlotTravel > 0 ? (part.SlotTravel, part.SlotDegrees) : (mate.SlotTravel, mate.SlotDegrees);
}
