using FabLink.Engineering;
using FabLink.Engineering.Chains;

namespace FabLink.Portal.Features.Chains;

/// <summary>A chain computed from what the record has now: as drawn, and with every measured value in its place.</summary>
/// <param name="Drawn">Null when a link cannot be computed.</param>
/// <param name="Now">The same object as <paramref name="Drawn"/> while nothing is measured.</param>
/// <param name="Problem">Which link cannot be computed and why.</param>
public sealed record ChainStanding(ChainRow Chain, IReadOnlyList<LinkFact> Links, ChainAnswer? Drawn, ChainAnswer? Now, string? Problem)
{
    /// <summary>Samples of a forecast: a yield of 99 % is known to about ±0.06 %.</summary>
    public const int Samples = 100_000;

    public static ChainStanding Of(ChainRow chain, IReadOnlyList<LinkFact> links, CancellationToken cancellation)
    {
        if (links.FirstOrDefault(link => link.Problem is not null) is { } broken)
            return new ChainStanding(chain, links, null, null, $"Link {broken.Name}: {broken.Problem}.");
        try
        {
            var drawn = ChainCalculation.Run(Question(chain, links, now: false), 1, cancellation);
            return new ChainStanding(chain, links, drawn, links.Any(link => link.Measured) ? ChainCalculation.Run(Question(chain, links, now: true), 1, cancellation) : drawn, null);
        }
        catch (InputError error)
        {
            return new ChainStanding(chain, links, null, null, error.Message);
        }
    }

    public static ChainRequest Question(ChainRow chain, IReadOnlyList<LinkFact> links, bool now) =>
        new([.. links.Select(link => now ? link.Now! : link.Drawn!)], chain.Required, Samples, chain.Seed);

    public string Form => Now?.State ?? "as drawn";

    public double? Yield => Now?.MonteCarlo?.Yield;

    public string Verdict => Yield is not { } yield ? "not known" : yield >= (double)Chain.RequiredYield ? "closes" : "yield too low";

    public int MeasuredLinks => Links.Count(link => link.Measured);

    /// <summary>Measured links of which nobody said how well.</summary>
    public IEnumerable<LinkFact> Exact => Links.Where(link => link.Measured && link.Now!.StandardUncertainty is not > 0);

    /// <summary>Half of the worst case width that is still open: what the links that are not measured may bring.</summary>
    public double StillOpen => Now is null ? 0 : Now.Contributions.Where((_, i) => !Links[i].Measured).Sum(one => one.Half);

    /// <summary>The link to tighten: the one not measured that brings most of the variance.</summary>
    public Contribution? Widest => Now?.Contributions.Where((one, i) => !Links[i].Measured && one.Half > 0).MaxBy(one => one.VarianceShare);

    /// <summary>The measured link that used the most, with how far it moves the closing dimension from where its drawing aims.</summary>
    public (LinkFact Link, double Moved)? UsedMost
    {
        get
        {
            var moved = Links.Where(link => link.Measured).Select(link => (Link: link, Moved: MovedBy(link))).ToList();
            return moved.Count == 0 ? null : moved.MaxBy(one => Math.Abs(one.Moved));
        }
    }

    /// <summary>What the links that are not made yet may still be.</summary>
    public IEnumerable<(LinkFact Link, LinkRoom Room)> Room =>
        Now is null ? [] : from link in Links where link is { Made: true, Measured: false } join room in Now.Room on link.Name equals room.Name select (link, room);

    private static double MovedBy(LinkFact link) =>
        link.Now!.Sensitivity * (link.Now.Measured!.Value - (link.Drawn!.Nominal!.Value + (((link.Drawn.Lower ?? 0) + (link.Drawn.Upper ?? 0)) / 2)));
}
