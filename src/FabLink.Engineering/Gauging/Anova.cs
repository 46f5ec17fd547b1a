namespace FabLink.Engineering.Gauging;

/// <param name="Name">What varies.</param>
/// <param name="Degrees">Degrees of freedom.</param>
/// <param name="SumOfSquares">About the means above it.</param>
/// <param name="F">Mean square over that of the equipment; null where there is none, or the equipment does not vary.</param>
public sealed record AnovaRow(string Name, int Degrees, decimal SumOfSquares, decimal? F)
{
    public decimal MeanSquare => SumOfSquares / Degrees;
}

/// <summary>A gauge study by two-way analysis of variance with interaction, all parts and persons random.</summary>
/// <param name="Persons">Row of the table.</param>
/// <param name="Parts">Row of the table.</param>
/// <param name="Interaction">Persons × parts.</param>
/// <param name="Equipment">Within the cells.</param>
/// <param name="Total">All.</param>
/// <param name="InteractionProbability">P that chance alone gives the interaction's F or more.</param>
/// <param name="Pooled">The interaction counted as repeatability.</param>
/// <param name="Unpooled">The interaction kept, as part of reproducibility.</param>
/// <param name="InteractionVariation">σ of the interaction in the unpooled model.</param>
public sealed record Anova(
    AnovaRow Persons,
    AnovaRow Parts,
    AnovaRow Interaction,
    AnovaRow Equipment,
    AnovaRow Total,
    double? InteractionProbability,
    GaugeSpread Pooled,
    GaugeSpread Unpooled,
    decimal InteractionVariation)
{
    /// <summary>An interaction that chance explains with this probability or more is pooled (common practice).</summary>
    public const double PoolingLevel = 0.25;

    /// <summary>Is the interaction insignificant, so that <see cref="Spread"/> is the pooled one?</summary>
    public bool IsPooled => InteractionProbability is not { } p || p >= PoolingLevel;

    public GaugeSpread Spread => IsPooled ? Pooled : Unpooled;

    internal static Anova Of(GaugeTable table)
    {
        var (n, k, r) = (table.Parts.Count, table.Persons.Count, table.Trials);
        var grand = table.Mean;
        var partMeans = Enumerable.Range(0, n).Select(table.MeanOfPart).ToArray();
        var personMeans = Enumerable.Range(0, k).Select(table.MeanOfPerson).ToArray();
        var (interaction, within, total) = (0m, 0m, 0m);
        for (var p = 0; p < n; p++)
        {
            for (var q = 0; q < k; q++)
            {
                var mean = table.MeanOfCell(p, q);
                interaction += r * Square(mean - partMeans[p] - personMeans[q] + grand);
                within += table.Cell(p, q).Sum(value => Square(value - mean));
                total += table.Cell(p, q).Sum(value => Square(value - grand));
            }
        }

        var equipment = new AnovaRow("equipment", n * k * (r - 1), within, null);
        var persons = Row("persons", k - 1, n * r * personMeans.Sum(mean => Square(mean - grand)), equipment);
        var parts = Row("parts", n - 1, k * r * partMeans.Sum(mean => Square(mean - grand)), equipment);
        var both = Row("persons × parts", (n - 1) * (k - 1), interaction, equipment);
        double? probability = both.F is { } f ? Distributions.FisherUpperTail((double)f, both.Degrees, equipment.Degrees) : null;
        var unpooledInteraction = Deviation((both.MeanSquare - equipment.MeanSquare) / r);
        return new Anova(
            persons,
            parts,
            both,
            equipment,
            new AnovaRow("total", n * k * r - 1, total, null),
            probability,
            PooledSpread(persons, parts, both, equipment, n * r, k * r),
            UnpooledSpread(persons, parts, both, equipment, n * r, k * r, unpooledInteraction),
            unpooledInteraction);
    }

    private static AnovaRow Row(string name, int degrees, decimal squares, AnovaRow equipment) =>
        new(name, degrees, squares, equipment.SumOfSquares == 0 ? null : squares / degrees / equipment.MeanSquare);

    private static GaugeSpread PooledSpread(AnovaRow persons, AnovaRow parts, AnovaRow both, AnovaRow equipment, int perPerson, int perPart)
    {
        var error = (both.SumOfSquares + equipment.SumOfSquares) / (both.Degrees + equipment.Degrees);
        return GaugeSpread.Of(
            Deviation(error),
            Deviation((persons.MeanSquare - error) / perPerson),
            Deviation((parts.MeanSquare - error) / perPart));
    }

    private static GaugeSpread UnpooledSpread(
        AnovaRow persons, AnovaRow parts, AnovaRow both, AnovaRow equipment, int perPerson, int perPart, decimal interaction)
    {
        var betweenPersons = Deviation((persons.MeanSquare - both.MeanSquare) / perPerson);
        return GaugeSpread.Of(
            Deviation(equipment.MeanSquare),
            DecimalMath.SquareRoot(Square(betweenPersons) + Square(interaction)),
            Deviation((parts.MeanSquare - both.MeanSquare) / perPart));
    }

    // An estimate of variance that comes out negative means none was seen.
    private static decimal Deviation(decimal variance) => DecimalMath.SquareRoot(Math.Max(0, variance));

    private static decimal Square(decimal x) => x * x;
}
