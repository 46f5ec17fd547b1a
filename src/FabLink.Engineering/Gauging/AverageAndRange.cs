using System.Globalization;
using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Gauging;

/// <summary>A gauge study by averages and ranges: EV = R̿·K1, AV = √((X̄diff·K2)² − EV²/(n·r)), PV = Rp·K3.</summary>
/// <param name="Spread">EV, AV, GRR, PV, TV.</param>
/// <param name="RangesOfPersons">R̄ of each person, in order of appearance.</param>
/// <param name="MeanRange">R̿.</param>
/// <param name="MeansOfPersons">X̄ of each person.</param>
/// <param name="DifferenceOfMeans">X̄diff.</param>
/// <param name="RangeOfParts">Rp, largest less smallest part average.</param>
/// <param name="UpperRangeLimit">D4 · R̿.</param>
/// <param name="OutOfControl">Cells whose range is above it, in words.</param>
public sealed record AverageAndRange(
    GaugeSpread Spread,
    IReadOnlyList<decimal> RangesOfPersons,
    decimal MeanRange,
    IReadOnlyList<decimal> MeansOfPersons,
    decimal DifferenceOfMeans,
    decimal RangeOfParts,
    decimal UpperRangeLimit,
    IReadOnlyList<string> OutOfControl)
{
    private static readonly StandardTable Constants = StandardTable.Load("aiag-msa-constants.csv");

    internal static AverageAndRange Of(GaugeTable table)
    {
        var (parts, persons, trials) = (table.Parts.Count, table.Persons.Count, table.Trials);
        var k1 = Constant("K1", trials, "trials");
        var k2 = Constant("K2", persons, "persons");
        var k3 = Constant("K3", parts, "parts");

        var ranges = Enumerable.Range(0, persons).Select(k => Enumerable.Range(0, parts).Average(p => table.RangeOfCell(p, k))).ToArray();
        var means = Enumerable.Range(0, persons).Select(table.MeanOfPerson).ToArray();
        var partMeans = Enumerable.Range(0, parts).Select(table.MeanOfPart).ToArray();
        var meanRange = ranges.Average();
        var difference = means.Max() - means.Min();
        var rangeOfParts = partMeans.Max() - partMeans.Min();

        var equipment = meanRange * k1;
        var squared = difference * k2 * (difference * k2) - equipment * equipment / (parts * trials);
        var limit = Constant("D4", trials, "trials") * meanRange;
        return new AverageAndRange(
            GaugeSpread.Of(equipment, DecimalMath.SquareRoot(Math.Max(0, squared)), rangeOfParts * k3),
            ranges,
            meanRange,
            means,
            difference,
            rangeOfParts,
            limit,
            Above(table, limit));
    }

    private static List<string> Above(GaugeTable table, decimal limit) =>
        [.. from k in Enumerable.Range(0, table.Persons.Count)
            from p in Enumerable.Range(0, table.Parts.Count)
            let range = table.RangeOfCell(p, k)
            where range > limit
            select string.Create(CultureInfo.InvariantCulture, $"person {table.Persons[k]}, part {table.Parts[p]} ({range})")];

    private static decimal Constant(string column, int number, string what)
    {
        var filled = Constants.Rows.Where(row => Constants.Cell(row, column).Length > 0).ToArray();
        var row = filled.FirstOrDefault(row => StandardTable.Number(row[0]) == number)
            ?? throw new InputError("measurements", $"{Constants.Citation} gives {column} for {filled[0][0]} to {filled[^1][0]} {what}, not {number}; analysis of variance has no such limit.");
        return StandardTable.Number(Constants.Cell(row, column))!.Value;
    }
}
