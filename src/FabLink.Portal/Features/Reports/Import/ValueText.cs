using FabLink.Engineering.Quantities;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>A value or an uncertainty as people write it: a number, one with its unit, an angle, go or no go.</summary>
internal readonly record struct ValueText(decimal? Number, Unit? Unit, bool IsArcSeconds, bool? Go)
{
    /// <summary>Words that cannot be read give nothing of all this; <paramref name="refusal"/> says why they are no number.</summary>
    public static ValueText Read(string text, Unit? unit, out string? refusal)
    {
        var trimmed = text.AsSpan().Trim();
        if (NumberText.TryParse(trimmed, out var number, out refusal))
            return new ValueText(number, null, false, null);
        if (GoOrNoGo(trimmed) is { } go)
            return new ValueText(null, null, false, go);

        // A bare " or ' means inches, or minutes and seconds behind an angle's unit.
        var angle = trimmed.ContainsAny('°', 'º') || (unit is { } given && Units.IsAngle(given));
        if (angle && AngleText.TryParse(trimmed, out var seconds))
            return new ValueText(seconds, Engineering.Quantities.Unit.DegreeMinuteSecond, true, null);

        var digits = trimmed.LastIndexOfAnyInRange('0', '9') + 1;
        if (digits > 0 && digits < trimmed.Length && trimmed.Length - digits <= 12)
        {
            // 12. mm ends its number with the mark.
            if (trimmed[digits] is '.' or ',')
                digits++;
            if (NumberText.TryParse(trimmed[..digits], out number))
            {
                if (Units.TryParse(trimmed[digits..].ToString(), out var written))
                    return new ValueText(number, written, false, null);
                refusal = $"“{trimmed}”: “{trimmed[digits..].Trim()}” is not a unit that is known here.";
            }
        }

        return default;
    }

    /// <summary><c>9.01 ±0.02</c>: the value, and its expanded uncertainty beside it; empty without one.</summary>
    public static (string Value, string Uncertainty) Split(string text)
    {
        foreach (var sign in (ReadOnlySpan<string>)["±", "+/-"])
        {
            if (text.IndexOf(sign, StringComparison.Ordinal) is > 0 and var at)
                return (text[..at].Trim(), text[(at + sign.Length)..].Trim());
        }

        return (text, "");
    }

    private static bool? GoOrNoGo(ReadOnlySpan<char> text)
    {
        if (text.Length > 12)
            return null;
        Span<char> word = stackalloc char[12];
        var length = 0;
        foreach (var c in text)
        {
            if (c is not (' ' or '-' or '/'))
                word[length++] = char.ToLowerInvariant(c);
        }

        return word[..length] switch
        {
            "go" or "ok" or "pass" or "passed" or "yes" or "good" or "conforms" or "true" => true,
            "nogo" or "nok" or "notok" or "fail" or "failed" or "no" or "bad" or "false" => false,
            _ => null,
        };
    }
}
