using System.Globalization;
using FabLink.Engineering;
using FabLink.Engineering.Judging;

namespace FabLink.Portal.Features.Calculations;

/// <summary>Words of the API for what the library has as types.</summary>
internal static class Words
{
    public static string Of(Verdict verdict) => verdict switch
    {
        Verdict.Conforms => "conforms",
        Verdict.DoesNotConform => "does-not-conform",
        Verdict.NotProven => "not-proven",
        _ => "incomplete",
    };

    public static JudgingRule Rule(string? text) => text switch
    {
        null or "simple" => JudgingRule.Simple,
        "guarded" => JudgingRule.Guarded,
        "probability" => JudgingRule.Probability,
        _ => throw new InputError("rule", $"“{text}” is none of simple, guarded, probability."),
    };

    /// <summary>ISO 14253-1: the 2013 edition guards with U, the 2017 edition with 1.645·u.</summary>
    public static GuardBand Guard(int? edition) => edition switch
    {
        null or 2013 => GuardBand.ExpandedUncertainty,
        2017 => GuardBand.NinetyFivePercent,
        _ => throw new InputError("guardEdition", $"ISO 14253-1 has its guards in the editions 2013 and 2017, not {edition}."),
    };

    public static Importance ImportanceOf(string? text) => text switch
    {
        null or "minor" => Importance.Minor,
        "major" => Importance.Major,
        "critical" => Importance.Critical,
        _ => throw new InputError("importance", $"“{text}” is none of minor, major, critical."),
    };

    /// <summary>An exact number as text, without zeros at its end.</summary>
    public static string Exact(decimal value) => value.ToString("0.############################", CultureInfo.InvariantCulture);

    public static string? Exact(decimal? value) => value is { } known ? Exact(known) : null;

    /// <exception cref="InputError">It is missing.</exception>
    public static T Needed<T>(T? value, string field)
        where T : struct =>
        value ?? throw new InputError(field, $"{field} is missing.");

    /// <exception cref="InputError">It is missing.</exception>
    public static T Needed<T>(T? value, string field)
        where T : class =>
        value ?? throw new InputError(field, $"{field} is missing.");
}
