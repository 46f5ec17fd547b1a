using System.Buffers;
using System.Globalization;

namespace FabLink.Engineering.Quantities;

/// <summary>
/// Numbers as people write them on drawings and in measurement files. One mark, a point or a comma, is the decimal mark,
/// wherever it stands: <c>1,5</c> and <c>1.5</c> are the same, <c>.750</c> and <c>12.</c> are numbers, and <c>1,234</c> is a
/// little more than one. Digits are never grouped: a text with two marks (<c>1.234,5</c>, <c>1,234.5</c>, <c>1.234.567</c>)
/// or with a space between its digits means different things in different countries and is refused.
/// Exponents, NaN and infinity are refused.
/// </summary>
public static class NumberText
{
    /// <summary>So that a conversion from inches or mils still fits a decimal without rounding.</summary>
    public const int MostDigits = 24;

    public static bool TryParse(ReadOnlySpan<char> text, out decimal value) => TryParse(text, out value, out _);

    /// <param name="text">What was written; blanks around it do not matter.</param>
    /// <param name="value">The number, with the decimals that were written (<c>1.50</c> keeps its zero).</param>
    /// <param name="refusal">Why it is not a number, for the person who wrote it; null when it is.</param>
    public static bool TryParse(ReadOnlySpan<char> text, out decimal value, out string? refusal)
    {
        text = text.Trim();
        value = 0;
        refusal = Check(text);
        if (refusal is not null)
            return false;

        Span<char> plain = stackalloc char[text.Length];
        for (var i = 0; i < text.Length; i++)
            plain[i] = text[i] switch { ',' => '.', '\u2212' => '-', var c => c };
        value = decimal.Parse(plain, NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture);
        return true;
    }

    /// <exception cref="InputError">The text is not a number; the message says why.</exception>
    public static decimal Parse(ReadOnlySpan<char> text, string field) =>
        TryParse(text, out var value, out var refusal) ? value : throw new InputError(field, refusal!);

    internal static bool IsSign(char c) => c is '+' or '-' or '\u2212';

    internal static bool IsMark(char c) => c is '.' or ',';

    /// <summary>What a unit or an uncertainty beside the number is written with.</summary>
    private static readonly SearchValues<char> _beside = SearchValues.Create("±°'\"µinm");

    private static string? Check(ReadOnlySpan<char> text)
    {
        if (text.IsEmpty)
            return "A number is missing.";
        if (text.Length > 64)
            return "This is too long for a number.";

        var digits = 0;
        var mark = '\0';
        for (var i = 0; i < text.Length; i++)
        {
            var c = text[i];
            if (char.IsAsciiDigit(c))
                digits++;
            else if (IsMark(c))
            {
                if (mark != '\0')
                    return $"“{text}” has more than one decimal mark and reads differently in different countries: write it without grouping its digits, like 1234.5 or 1234,5.";
                mark = c;
            }
            else if (char.IsWhiteSpace(c) && digits > 0 && text[i..].ContainsAny(_beside))
                return $"“{text}”: only the number stands here; its unit and its uncertainty have places of their own.";
            else if (char.IsWhiteSpace(c) && digits > 0)
                return $"“{text}” has a blank inside the number: write its digits together, like 1234.5.";
            else if (c == '°' && digits > 0 && i + 1 < text.Length)
                return $"“{text}” is an angle whose parts cannot be told: write degrees, minutes and seconds with their signs, like 45°10'30\".";
            else if (!(i == 0 && IsSign(c)))
                return $"“{text}” is not a number: “{c}” at character {i + 1} does not belong in one.";
        }

        return digits switch
        {
            0 => $"“{text}” is not a number: it has no digits.",
            > MostDigits => $"“{text}” has more than {MostDigits} digits.",
            _ => null,
        };
    }
}
