using System.Globalization;
using System.Text;

namespace FabLink.Engineering.Quantities;

/// <summary>
/// Angles as drawings write them: <c>45°</c>, <c>45.5°</c>, <c>45°15'</c>, <c>0°30'</c>, <c>93°06'12"</c>, <c>-0°30'</c>, <c>20'</c>,
/// and with blanks between their parts.
/// Only the last part may carry decimals; minutes and seconds behind a larger part stay below 60.
/// </summary>
public static class AngleText
{
    public static bool TryParse(ReadOnlySpan<char> text, out decimal arcSeconds) => TryParse(text, out arcSeconds, out _);

    /// <param name="text">Parts with their signs ° ' " (also ′ ″ ’ ”), largest first; a minus counts for all of them.</param>
    /// <param name="arcSeconds">The angle in seconds of arc, exact.</param>
    /// <param name="refusal">Why it is not an angle; null when it is.</param>
    public static bool TryParse(ReadOnlySpan<char> text, out decimal arcSeconds, out string? refusal)
    {
        var whole = text.Trim();
        var rest = whole;
        arcSeconds = 0;
        var negative = false;
        if (!rest.IsEmpty && NumberText.IsSign(rest[0]))
        {
            negative = rest[0] != '+';
            rest = rest[1..];
        }

        var largest = true;
        var previous = 0;
        var hadDecimals = false;
        while (!(rest = rest.TrimStart()).IsEmpty)
        {
            var length = 0;
            while (length < rest.Length && (char.IsAsciiDigit(rest[length]) || NumberText.IsMark(rest[length])))
                length++;
            if (length == 0 || !NumberText.TryParse(rest[..length], out var number, out refusal))
                return Refuse($"“{whole}” is not an angle: a number is missing or malformed.", out arcSeconds, out refusal);
            if (length == rest.Length)
                return Refuse($"“{whole}” ends without ° or ' or \".", out arcSeconds, out refusal);

            var weight = WeightOf(rest[length]);
            if (weight == 0)
                return Refuse($"“{whole}” is not an angle: “{rest[length]}” is none of ° ' \".", out arcSeconds, out refusal);
            if (!largest && weight >= previous)
                return Refuse($"“{whole}” is not an angle: degrees come first, then minutes, then seconds.", out arcSeconds, out refusal);
            if (hadDecimals)
                return Refuse($"“{whole}” is not an angle: only its last part may have decimals.", out arcSeconds, out refusal);
            if (!largest && number >= 60)
                return Refuse($"“{whole}” is not an angle: {number} is 60 or more.", out arcSeconds, out refusal);
            arcSeconds += number * weight;
            hadDecimals = number != decimal.Truncate(number);
            previous = weight;
            largest = false;
            rest = rest[(length + 1)..];
        }

        if (largest)
            return Refuse($"“{whole}” is not an angle: a number is missing.", out arcSeconds, out refusal);
        if (negative)
            arcSeconds = -arcSeconds;
        refusal = null;
        return true;
    }

    /// <summary>Degrees, minutes and seconds with as many parts as the angle needs: <c>45°</c>, <c>0°30'</c>, <c>93°06'12"</c>.</summary>
    public static string Format(decimal arcSeconds)
    {
        // A third of a degree, divided and multiplied again, keeps a speck in the last place of the decimal.
        arcSeconds = decimal.Round(arcSeconds, 15);
        var size = Math.Abs(arcSeconds);
        var degrees = decimal.Truncate(size / 3600);
        var minutes = decimal.Truncate((size - degrees * 3600) / 60);
        var seconds = size - degrees * 3600 - minutes * 60;
        var text = new StringBuilder(arcSeconds < 0 ? "-" : "").Append(CultureInfo.InvariantCulture, $"{degrees}°");
        if (minutes != 0 || seconds != 0)
            text.Append(CultureInfo.InvariantCulture, $"{minutes:00}'");
        if (seconds != 0)
            text.Append(CultureInfo.InvariantCulture, $"{seconds:00.############################}\"");
        return text.ToString();
    }

    /// <summary>In decimal degrees where they end within nine decimals (<c>44.5°</c>), else in degrees, minutes and seconds (<c>44°40'</c>).</summary>
    public static string FormatDegrees(decimal arcSeconds)
    {
        var degrees = decimal.Round(arcSeconds / 3600, 9);
        return degrees * 3600 == arcSeconds ? degrees.ToString("0.#########", CultureInfo.InvariantCulture) + "°" : Format(arcSeconds);
    }

    internal static bool HasSigns(ReadOnlySpan<char> text)
    {
        foreach (var c in text)
        {
            if (WeightOf(c) > 0)
                return true;
        }

        return false;
    }

    /// <summary>Arc-seconds in one of the sign: 3600, 60, 1; 0 when it is none of them.</summary>
    internal static int WeightOf(char sign) => sign switch
    {
        '°' or 'º' => 3600,
        '\'' or '′' or '’' => 60,
        '"' or '″' or '”' => 1,
        _ => 0,
    };

    private static bool Refuse(string reason, out decimal arcSeconds, out string? refusal)
    {
        arcSeconds = 0;
        refusal = reason;
        return false;
    }
}
