using FabLink.Engineering.Tables;

namespace FabLink.Engineering.Tolerances;

public enum HoleSeries
{
    /// <summary>H12.</summary>
    Fine,

    /// <summary>H13.</summary>
    Medium,

    /// <summary>H14.</summary>
    Coarse,
}

/// <param name="Thread">M3 to M30.</param>
/// <param name="Fastener">Nominal diameter of the fastener, mm.</param>
/// <param name="Hole">Nominal diameter of the clearance hole, mm.</param>
/// <param name="Limits">With the series' tolerance, H12, H13 or H14 of ISO 286.</param>
/// <param name="Sources">Standard and edition.</param>
public sealed record ClearanceHole(string Thread, decimal Fastener, decimal Hole, Limits Limits, IReadOnlyList<string> Sources);

/// <summary>ISO 273:1979, clearance holes for bolts and screws.</summary>
public static class ClearanceHoles
{
    private static readonly StandardTable Table = StandardTable.Load("iso-273-clearance-holes.csv");

    public static IEnumerable<string> Threads => Table.Rows.Select(row => row[0]);

    /// <exception cref="InputError">A thread that is not in the table; the message names its range.</exception>
    public static ClearanceHole Find(string? thread, HoleSeries series)
    {
        var row = Table.Rows.FirstOrDefault(row => string.Equals(row[0], thread?.Trim(), StringComparison.OrdinalIgnoreCase))
            ?? throw new InputError("thread", $"“{thread}” is not in {Table.Citation}, which holds {string.Join(", ", Threads)}.");
        var (column, grade) = series switch
        {
            HoleSeries.Fine => ("fine", "H12"),
            HoleSeries.Medium => ("medium", "H13"),
            _ => ("coarse", "H14"),
        };
        var hole = StandardTable.Number(Table.Cell(row, column))!.Value;
        var fastener = StandardTable.Number(row[0][1..])!.Value;
        return new ClearanceHole(row[0], fastener, hole, ToleranceClass.Parse(grade).LimitsOf(hole), [Table.Citation, .. ToleranceClass.Sources]);
    }
}
