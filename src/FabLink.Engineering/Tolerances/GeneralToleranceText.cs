using System.Text.RegularExpressions;

namespace FabLink.Engineering.Tolerances;

internal static partial class GeneralToleranceText
{
    // Prefixes of national editions (DIN, EN, BS) carry the same values; a trailing E asks for the envelope and changes no value.
    [GeneratedRegex(@"^(?:(?:DIN|EN|BS|NF|UNE|UNI|SS|JIS)[ -])*ISO[ -]?(?<number>2768|13920)(?:-(?<part>[12])(?=[ :-]))?(?::\d{4})?\s*[- ]\s*(?<class>[A-Za-z]{1,2})(?:-E)?$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase)]
    private static partial Regex Designation();

    public static bool TryParse(string? text, out GeneralTolerance? result, out string? refusal)
    {
        result = null;
        var match = Designation().Match((text ?? "").Trim().Replace('–', '-'));
        if (!match.Success)
        {
            refusal = $"“{text}” is not a general tolerance such as ISO 2768-m, ISO 2768-mK or ISO 13920-BF.";
            return false;
        }

        var welded = match.Groups["number"].Value == "13920";
        var letters = match.Groups["class"].Value;
        if (welded && match.Groups["part"].Success)
        {
            refusal = $"“{text}”: ISO 13920 has no parts.";
            return false;
        }

        var (sizes, forms) = welded ? ("ABCD", "EFGH") : ("fmcv", "HKL");
        string? size = null;
        string? form = null;
        foreach (var letter in letters)
        {
            // No letter stands in both rows, so an unusual case is no doubt.
            if (size is null && form is null && sizes.IndexOf(letter, StringComparison.OrdinalIgnoreCase) is >= 0 and var inSizes)
                size = sizes[inSizes].ToString();
            else if (form is null && forms.IndexOf(letter, StringComparison.OrdinalIgnoreCase) is >= 0 and var inForms)
                form = forms[inForms].ToString();
            else
            {
                refusal = $"“{text}”: “{letter}” is no class there; sizes have {string.Join(' ', sizes.ToCharArray())}, form has {string.Join(' ', forms.ToCharArray())}, sizes first.";
                return false;
            }
        }

        var part = match.Groups["part"].Value;
        if ((part == "1" && form is not null) || (part == "2" && size is not null))
        {
            refusal = $"“{text}”: ISO 2768-1 has the classes f m c v, ISO 2768-2 has H K L.";
            return false;
        }

        result = new GeneralTolerance(welded ? GeneralStandard.Iso13920 : GeneralStandard.Iso2768, size, form);
        refusal = null;
        return true;
    }
}
