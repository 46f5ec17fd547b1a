namespace FabLink.Engineering.Tables;

/// <summary>
/// A table whose rows are ranges of size, "over … up to and including": a size on a boundary belongs to the lower range.
/// Where a range takes its own lower end as well, the table writes that end with ≥. An empty upper end has no limit.
/// </summary>
internal sealed class SizeTable
{
    private readonly StandardTable table;
    private readonly Step[] steps;

    private SizeTable(StandardTable table)
    {
        this.table = table;
        steps = [.. table.Rows.Select(row => new Step(
            StandardTable.Number(table.Cell(row, "over").TrimStart('≥'))!.Value,
            table.Cell(row, "over")[0] == '≥',
            StandardTable.Number(table.Cell(row, "upTo")),
            row))];
    }

    public string Source => table.Source;

    public string Citation => table.Citation;

    public IEnumerable<string> Classes => table.Columns.Where(c => c is not ("over" or "upTo"));

    public static SizeTable Load(string file) => new(StandardTable.Load(file));

    /// <summary>The number in the row of <paramref name="size"/> and the column of <paramref name="classLetter"/>.</summary>
    /// <exception cref="InputError">No such class, or a size outside its range; the message names the range.</exception>
    public decimal Find(decimal size, string classLetter, string field = "size")
    {
        if (!table.HasColumn(classLetter))
            throw new InputError("class", $"{Citation} has the classes {string.Join(", ", Classes)}, not “{classLetter}”.");
        return TryFind(size, classLetter) ?? throw OutOfRange(size, classLetter, field);
    }

    /// <summary>The same, or null where the table is silent.</summary>
    public decimal? TryFind(decimal size, string classLetter)
    {
        if (!table.HasColumn(classLetter))
            return null;
        foreach (var step in steps)
        {
            if (Holds(step, size))
                return StandardTable.Number(table.Cell(step.Row, classLetter));
        }

        return null;
    }

    private static bool Holds(Step step, decimal size) =>
        (size > step.Over || (step.TakesOver && size == step.Over)) && (step.UpTo is null || size <= step.UpTo);

    private InputError OutOfRange(decimal size, string classLetter, string field)
    {
        var filled = steps.Where(step => StandardTable.Number(table.Cell(step.Row, classLetter)) is not null).ToArray();
        var first = filled[0];
        var from = first.TakesOver ? $"from {first.Over}" : $"over {first.Over}";
        var to = filled[^1].UpTo is { } end ? $" up to and including {end} mm" : " mm without upper end";
        return new InputError(field, $"{size} mm is outside {Citation}, which gives class {classLetter} for sizes {from}{to}.");
    }

    private sealed record Step(decimal Over, bool TakesOver, decimal? UpTo, string[] Row);
}
