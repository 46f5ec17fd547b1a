using System.Globalization;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Text for a cell of an exported file that no spreadsheet will take for a formula: what begins with = + - @, a tab or a
/// line break gets an apostrophe in front, unless it is a plain number (-0.5 stays -0.5). Common practice.
/// </summary>
public static class SafeCell
{
    public static string Of(string? text)
    {
        if (string.IsNullOrEmpty(text))
            return "";
        return StartsLikeFormula(text) && !IsPlainNumber(text) ? "'" + text : text;
    }

    // Spreadsheets drop blanks before they look at the first character, and know the full-width forms of these signs.
    private static bool StartsLikeFormula(string text) =>
        text[0] is '\t' or '\r' or '\n'
        || text.AsSpan().TrimStart() is [('=' or '+' or '-' or '@' or '＝' or '＋' or '－' or '＠'), ..];

    private static bool IsPlainNumber(string text) =>
        text.Length < 30 && text[0] is '+' or '-'
        && decimal.TryParse(text, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out _);
}
