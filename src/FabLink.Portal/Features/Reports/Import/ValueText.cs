using FabLink.Engineering.Quantities;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>A value or an uncertainty as people write it: a number, one with its unit, an angle, go or no go, yes or no.</summary>
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

    /// <summary><c>9.01 ±0.02</c>: the value, and its expanded uncertainty beside it; empty without one. They share a unit, see <see cref="Share"/>.</summary>
    public static (string Value, string Uncertainty) Split(string text, Unit? unit)
    {
        foreach (var sign in (ReadOnlySpan<string>)["±", "+/-"])
        {
            if (text.IndexOf(sign, StringComparison.Ordinal) is > 0 and var at)
                return Share(text[..at].Trim(), text[(at + sign.Length)..].Trim(), unit);
        }

        return (text, "");
    }

    /// <summary>
    /// A value and its uncertainty are of one unit where only one of them names it: <c>.535 ±.001 in</c> and <c>32.04 in</c> with 0.02 are inches throughout.
    /// Angles are left as they are: minutes beside degrees name themselves.
    /// </summary>
    /// <param name="unit">In which bare numbers are read; null when that is not known yet.</param>
    public static (string Value, string Uncertainty) Share(string value, string uncertainty, Unit? unit)
    {
        if (value.Length == 0 || uncertainty.Length == 0 || (unit is { } given && Units.IsAngle(given)))
            return (value, uncertainty);
        return (UnitBehind(value), UnitBehind(uncertainty)) switch
        {
            ("", { Length: > 0 } own) => ($"{value} {own}", uncertainty),
            ({ Length: > 0 } own, "") => (value, $"{uncertainty} {own}"),
            _ => (value, uncertainty),
        };
    }

    /// <summary>The unit that stands behind a number; empty for a bare number, null for what is neither.</summary>
    private static string? UnitBehind(string text)
    {
        if (NumberText.TryParse(text, out _))
            return "";
        var digits = text.AsSpan().LastIndexOfAnyInRange('0', '9') + 1;
        return digits > 0 && NumberText.TryParse(text.AsSpan(0, digits), out _) && Units.TryParse(text[digits..].Trim(), out _) ? text[digits..].Trim() : null;
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
            "go" or "ok" or "pass" or "passed" or "yes" or "good" or "conforms" or "true" or "done" => true,
            "nogo" or "nok" or "notok" or "fail" or "failed" or "no" or "bad" or "false" or "notdone" => false,
            _ => null,
        };
    }
}
