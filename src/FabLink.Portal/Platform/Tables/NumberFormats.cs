using System.Globalization;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Which cell styles show a number as a date, a time or a percentage: then the person did not write that number
/// (ISO/IEC 29500-1, 18.8.30 numFmt, whose built-in numbers 9 and 10 are percentages, 14-22 and 45-47 dates and times;
/// 27-36 and 50-58 are dates in East Asian locales).
/// </summary>
internal sealed class NumberFormats
{
    private const int MostStyles = 65_490;

    private readonly List<Shown> styles = [];

    internal enum Shown : byte
    {
        AsNumber,
        AsDate,
        AsPercent,
    }

    public Shown Of(string? style) =>
        int.TryParse(style, NumberStyles.None, CultureInfo.InvariantCulture, out var index) && index < styles.Count
            ? styles[index]
            : Shown.AsNumber;

    public static NumberFormats Read(Workbook workbook, string? part)
    {
        var formats = new NumberFormats();
        var own = new Dictionary<int, Shown>();
        var inCells = false;
        using var xml = workbook.Open(part);
        while (xml is not null && xml.Read())
        {
            if (xml.LocalName == "cellXfs")
            {
                inCells = xml.IsElement && !xml.IsEmptyElement;
            }
            else if (xml.IsElement && xml.LocalName == "numFmt" && Number(xml.Attribute("numFmtId")) is { } id)
            {
                own[id] = Read(xml.Attribute("formatCode") ?? "");
            }
            else if (xml.IsElement && xml.LocalName == "xf" && inCells)
            {
                var format = Number(xml.Attribute("numFmtId")) ?? 0;
                formats.styles.Add(own.TryGetValue(format, out var shown) ? shown : BuiltIn(format));
            }

            if (formats.styles.Count > MostStyles || own.Count > MostStyles)
                throw new SheetRefusal("The workbook has too many cell styles. Copy the table into a new workbook and upload that.");
        }

        return formats;
    }

    private static int? Number(string? text) =>
        int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? number : null;

    private static Shown BuiltIn(int format) => format switch
    {
        9 or 10 => Shown.AsPercent,
        (>= 14 and <= 22) or (>= 27 and <= 36) or (>= 45 and <= 47) or (>= 50 and <= 58) => Shown.AsDate,
        _ => Shown.AsNumber,
    };

    /// <summary>Looks at the first section of a format code, without its quoted text, escapes and [colours].</summary>
    internal static Shown Read(ReadOnlySpan<char> code)
    {
        for (var i = 0; i < code.Length; i++)
        {
            switch (code[i])
            {
                case '"' or '[':
                    var close = code[i] == '"' ? '"' : ']';
                    // [h], [mm] and [ss] count elapsed time; all other brackets are colours, conditions and locales.
                    if (close == ']' && i + 1 < code.Length && char.ToLowerInvariant(code[i + 1]) is 'h' or 'm' or 's'
                        && code[(i + 1)..].IndexOf(']') is 1 or 2)
                        return Shown.AsDate;
                    var end = code[(i + 1)..].IndexOf(close);
                    if (end < 0)
                        return Shown.AsNumber;
                    i += end + 1;
                    break;
                case '\\' or '_' or '*':
                    i++;
                    break;
                case ';':
                    return Shown.AsNumber;
                case '%':
                    return Shown.AsPercent;
                case 'd' or 'D' or 'm' or 'M' or 'y' or 'Y' or 'h' or 'H' or 's' or 'S':
                    return Shown.AsDate;
                case 'G' or 'g' when code[i..].StartsWith("General", StringComparison.OrdinalIgnoreCase):
                    return Shown.AsNumber;
                default:
                    break;
            }
        }

        return Shown.AsNumber;
    }
}
