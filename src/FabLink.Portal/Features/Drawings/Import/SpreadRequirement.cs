using FabLink.Engineering.Quantities;

namespace FabLink.Portal.Features.Drawings.Import;

/// <summary>A requirement spread over several columns, put together as a drawing would write it.</summary>
/// <param name="Nominal">12, 12 mm, 45°.</param>
/// <param name="Plus">0.2 or +0.2.</param>
/// <param name="Minus">-0.1, or 0.1 for the same; +0.1 stays above the nominal.</param>
/// <param name="Tolerance">0.1 or ±0.1, or a class such as H7.</param>
/// <param name="Lower">A limit, not a deviation.</param>
/// <param name="Upper">A limit, not a deviation.</param>
internal sealed record SpreadRequirement(string Nominal, string Plus, string Minus, string Tolerance, string Lower, string Upper)
{
    public bool IsEmpty => (Nominal + Plus + Minus + Tolerance + Lower + Upper).Length == 0;

    /// <summary>Deviations and limits that are both given and say different things; null when they agree, or only one of them is given.</summary>
    public string? Contradiction()
    {
        if ((Lower.Length == 0 && Upper.Length == 0) || !NumberText.TryParse(Nominal, out var nominal) || (Plus + Minus + Tolerance).Length == 0)
            return null;
        var (up, down) = Plus.Length > 0 || Minus.Length > 0
            ? (Signed(Plus, '+'), Signed(Minus, '-'))
            : (Tolerance.TrimStart('±', '+', '/', '-', ' '), "-" + Tolerance.TrimStart('±', '+', '/', '-', ' '));
        if (!NumberText.TryParse(up, out var plus) || !NumberText.TryParse(down, out var minus))
            return null;
        return (NumberText.TryParse(Upper, out var upper) && upper != nominal + plus) || (NumberText.TryParse(Lower, out var lower) && lower != nominal + minus)
            ? $"The deviations make {nominal + minus} to {nominal + plus}, and the limits say {(Lower.Length > 0 ? Lower : "nothing")} to {(Upper.Length > 0 ? Upper : "nothing")}. Leave out what does not hold."
            : null;
    }

    /// <summary>Empty when there is nothing; what makes no sense stands as it is, for the reader of requirements to refuse.</summary>
    public string Write(string kind)
    {
        var size = Body();
        var bare = size.Length > 0 && (char.IsAsciiDigit(size[0]) || size[0] is '.' or ',');
        return kind.Trim().ToLowerInvariant() switch
        {
            "diameter" when bare => "Ø" + size,
            "radius" when bare => "R" + size,
            _ => size,
        };
    }

    private string Body()
    {
        if (Plus.Length > 0 || Minus.Length > 0)
            return $"{Nominal} {Signed(Plus, '+')}/{Signed(Minus, '-')}";
        if (Tolerance.Length > 0)
            return char.IsAsciiLetter(Tolerance[0]) ? $"{Nominal} {Tolerance}" : $"{Nominal} ±{Tolerance.TrimStart('±', '+', '/', '-', ' ')}";
        if (Nominal.Length > 0 && Lower.Length > 0 && Upper.Length > 0
            && NumberText.TryParse(Nominal, out var nominal) && NumberText.TryParse(Lower, out var lower) && NumberText.TryParse(Upper, out var upper))
            return $"{Nominal} {Signed(upper - nominal)}/{Signed(lower - nominal)}";
        if (Lower.Length > 0 && Upper.Length > 0)
            return $"{Lower} to {Upper}";
        if (Upper.Length > 0)
            return "max " + Upper;
        return Lower.Length > 0 ? "min " + Lower : Nominal;
    }

    private static string Signed(string deviation, char sign) => deviation.Length switch
    {
        0 => "0",
        _ when NumberText.TryParse(deviation, out var number) && number == 0 => "0",
        _ when deviation[0] is '+' or '-' or '−' => deviation,
        _ => sign + deviation,
    };

    private static string Signed(decimal deviation) => deviation > 0 ? $"+{deviation}" : $"{deviation}";
}
