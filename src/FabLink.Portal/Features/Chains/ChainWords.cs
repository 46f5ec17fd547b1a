using FabLink.Engineering.Chains;
using FabLink.Portal.Features.Bench;
using FabLink.Portal.Platform.Web.Pictures;

namespace FabLink.Portal.Features.Chains;

/// <summary>What a chain says to people.</summary>
internal static class ChainWords
{
    public static Mark MarkOf(string verdict) => verdict switch
    {
        "closes" => Mark.Conforms,
        "yield too low" => Mark.DoesNotConform,
        _ => Mark.NotProven,
    };

    /// <summary>Never rounded up to all of them.</summary>
    public static string Percent(double? share) => share switch
    {
        null => "",
        > 0.9999 and < 1 => "over 99.99 %",
        { } known => $"{Typed.Say(100 * known, 2)} %",
    };

    public static string Range(double? lower, double? upper) => Range(lower, upper, value => Typed.Say(value, 3));

    private static string Range(double? lower, double? upper, Func<double, string> say) => (lower, upper) switch
    {
        (null, { } high) => $"at most {say(high)}",
        ({ } low, null) => $"at least {say(low)}",
        ({ } low, { } high) => $"{say(low)} to {say(high)}",
        _ => "open",
    };

    public static string Headline(ChainStanding standing) => standing.Verdict switch
    {
        "closes" => standing.Form == "as built"
            ? $"It closes as built: {standing.Chain.Closing} is {Typed.Say(standing.Now!.Expected, 2)} mm"
            : $"It will close: {Percent(standing.Yield)} of the forecasts keep {standing.Chain.Closing}",
        "yield too low" => standing.Form == "as built"
            ? $"It does not close as built: {standing.Chain.Closing} is {Typed.Say(standing.Now!.Expected, 2)} mm"
            : $"Only {Percent(standing.Yield)} of the forecasts keep {standing.Chain.Closing}; {Percent((double)standing.Chain.RequiredYield)} are required",
        _ => "This chain cannot be computed now",
    };

    /// <summary>What to do about it, in sentences.</summary>
    public static IEnumerable<string> Advice(ChainStanding standing)
    {
        if (standing is { Verdict: "yield too low", Now: { } now } && Outside(standing, now.Expected) is { } off)
            yield return $"Its middle is {Typed.Say(Math.Abs(off), 2)} mm too {(off > 0 ? "large" : "small")} already: no tightening helps, a nominal has to change.";
        if (standing.UsedMost is { } used && Math.Abs(used.Moved) >= 0.005)
            yield return $"{Upper(used.Link.Name)}, measured {In(used.Link, used.Link.Now!.Measured!.Value, 3)} {used.Link.DrawnIn}, used the most: it moves the closing dimension by {Signed(used.Moved)} mm from where it was aimed.";
        if (standing.Widest is { } widest)
            yield return $"{Upper(widest.Name)} brings {Percent(widest.VarianceShare)} of the spread that is left{(standing.Verdict == "closes" || (standing.Now is { } aimed && Outside(standing, aimed.Expected) is not null) ? "" : ": tighten or measure it first")}.";
        foreach (var (link, room) in standing.Room.Where(one => one.Link.Drawn!.Upper > one.Link.Drawn.Lower))
        {
            yield return room.WorstCase is { } may
                ? $"{Upper(link.Name)}, not measured yet, may be {Range(may.Lower, may.Upper, value => In(link, value, 3))} {link.DrawnIn} whatever the others are."
                : room.RootSumSquare is { } aim
                    ? $"{Upper(link.Name)}, not measured yet: aim at {In(link, (aim.Lower + aim.Upper) / 2, 2)} {link.DrawnIn}, within {In(link, (aim.Upper - aim.Lower) / 2, 2)}; no value closes whatever the others are."
                    : $"{Upper(link.Name)}, not measured yet: no value closes whatever the others are; they use {Typed.Say(room.WorstCaseShortfall, 2)} mm too much.";
        }
    }

    /// <summary>What the figures leave out.</summary>
    public static IEnumerable<string> Cautions(ChainStanding standing) => standing.Exact.Select(link => link.Name).ToList() is { Count: > 0 } exact
        ? [$"Measured without an uncertainty, and so counted as exact: {string.Join(", ", exact)}."]
        : [];

    public static string Notice(ChainStanding standing) => $"""
        {Headline(standing)}. {standing.Chain.Closing} is expected at {Typed.Say(standing.Now!.Expected, 2)} mm, {standing.Form} ({standing.MeasuredLinks} of {standing.Links.Count} links measured); required {Range((double?)standing.Chain.RequiredLowerMm, (double?)standing.Chain.RequiredUpperMm)} mm.
        {string.Join("\n", Advice(standing).Concat(Cautions(standing)))}
        This is calculation, not approval.
        """;

    /// <summary>How far the expected closing dimension lies outside what is required; null when it is inside.</summary>
    private static double? Outside(ChainStanding standing, double expected) =>
        expected > (double?)standing.Chain.RequiredUpperMm ? expected - (double)standing.Chain.RequiredUpperMm!
        : expected < (double?)standing.Chain.RequiredLowerMm ? expected - (double)standing.Chain.RequiredLowerMm!
        : null;

    /// <summary>A length of a link in the unit of its drawing; an inch is said finer by a place.</summary>
    private static string In(LinkFact link, double value, int places) => link.DrawnIn == "in" ? Typed.Say(value / 25.4, places + 1) : Typed.Say(value, places);

    private static string Upper(string name) => char.ToUpperInvariant(name[0]) + name[1..];

    private static string Signed(double value) => (value < 0 ? "−" : "+") + Typed.Say(Math.Abs(value), 2);
}
