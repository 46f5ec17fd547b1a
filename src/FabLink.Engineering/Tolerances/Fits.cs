namespace FabLink.Engineering.Tolerances;

/// <param name="Size">Nominal, mm.</param>
/// <param name="Hole">Limits of the hole in mm; null when only a shaft was asked.</param>
/// <param name="Shaft">Limits of the shaft in mm; null when only a hole was asked.</param>
/// <param name="MinimumClearance">mm, below zero for interference; null without a pair.</param>
/// <param name="MaximumClearance">mm; null without a pair.</param>
/// <param name="Sources">Standard, edition, tables.</param>
/// <param name="Cautions">What to know before relying on it.</param>
public sealed record FitAnswer(
    decimal Size,
    Limits? Hole,
    Limits? Shaft,
    decimal? MinimumClearance,
    decimal? MaximumClearance,
    IReadOnlyList<string> Sources,
    IReadOnlyList<string> Cautions);

/// <summary>ISO 286 fits: <c>50 H7/p6</c>, or one class alone: <c>50 H7</c>.</summary>
public static class Fits
{
    /// <param name="fit">A size in mm and one class or two; the hole comes first.</param>
    /// <exception cref="InputError">Not a fit, or outside the tables.</exception>
    public static FitAnswer Calculate(string? fit)
    {
        var text = (fit ?? "").Trim().TrimStart('Ø', '⌀').TrimStart();
        var letter = 0;
        while (letter < text.Length && !char.IsAsciiLetter(text[letter]))
            letter++;
        if (letter == 0 || letter == text.Length)
            throw new InputError("fit", $"“{fit}” is not a fit like 50 H7/p6: a size, then a class or two.");
        var size = Quantities.NumberText.Parse(text.AsSpan(0, letter), "fit");
        var classes = text[letter..].Split('/', StringSplitOptions.TrimEntries);
        if (classes.Length > 2)
            throw new InputError("fit", $"“{fit}” has more than two classes.");

        var first = ToleranceClass.Parse(classes[0], "fit");
        if (classes.Length == 1)
            return first.IsHole ? Answer(size, first, null) : Answer(size, null, first);
        var second = ToleranceClass.Parse(classes[1], "fit");
        if (!first.IsHole || second.IsHole)
            throw new InputError("fit", $"“{fit}”: the hole's class (capital letter) comes first, then the shaft's (small letter).");
        return Answer(size, first, second);
    }

    private static FitAnswer Answer(decimal size, ToleranceClass? hole, ToleranceClass? shaft)
    {
        try
        {
            var holeLimits = hole?.LimitsOf(size);
            var shaftLimits = shaft?.LimitsOf(size);
            return new FitAnswer(
                size,
                holeLimits,
                shaftLimits,
                holeLimits?.Lower - shaftLimits?.Upper,
                holeLimits?.Upper - shaftLimits?.Lower,
                ToleranceClass.Sources,
                CautionsFor(hole, shaft));
        }
        catch (InputError refusal)
        {
            throw new InputError("fit", refusal.Message);
        }
    }

    private static List<string> CautionsFor(ToleranceClass? hole, ToleranceClass? shaft)
    {
        var cautions = new List<string> { "Limits apply at 20 °C, before any coating unless the drawing says otherwise." };
        if (hole?.Letters == "JS" || shaft?.Letters == "js")
            cautions.Add("js and JS are exactly ±IT/2; some printed tables round odd grades 7 to 11 down to whole micrometres.");
        return cautions;
    }
}
