namespace FabLink.Portal.Platform.Tables;

public enum Severity
{
    /// <summary>A person should look; it does not hinder.</summary>
    Warn,

    /// <summary>What is asked for cannot be done until this is put right.</summary>
    Refuse,
}

/// <summary>Something a person should see before a table is taken over.</summary>
/// <param name="File">As it was uploaded.</param>
/// <param name="Row">As the spreadsheet numbers it; null when it is the file as a whole.</param>
/// <param name="Field">The column in the trade's word (balloon, value, unit …); empty when it is the row as a whole.</param>
/// <param name="Message">What is wrong and what to do, one or two sentences.</param>
public sealed record TableProblem(Severity Severity, string File, int? Row, string Field, string Message);

/// <summary>Problems of one file, no more than a person would read.</summary>
public sealed class TableProblems(string file)
{
    public const int Most = 500;

    private readonly List<TableProblem> kept = [];
    private int beyond;

    public bool AnyRefusal { get; private set; }

    public void Refuse(int? row, string field, string message)
    {
        AnyRefusal = true;
        Add(new TableProblem(Severity.Refuse, file, row, field, message));
    }

    public void Warn(int? row, string field, string message) => Add(new TableProblem(Severity.Warn, file, row, field, message));

    /// <summary>Refuses what a spreadsheet computed or changed instead of what a person wrote.</summary>
    public bool Accepts(SheetRow row, Cell cell, string field)
    {
        if (cell.Kind == CellKind.Formula)
            Refuse(row.Number, field, $"The {field} is a formula. Formulas are not computed here: copy the column and paste it as values.");
        else if (cell.Kind == CellKind.Error)
            Refuse(row.Number, field, $"The {field} is the spreadsheet's error {Short(cell.Text)}.");
        else if (MangledDate.Is(cell))
            Refuse(row.Number, field, $"“{Short(cell.Text)}” is a date: the spreadsheet changed what was typed, perhaps 12.3 or 3-4. Format the column as text and type it again.");
        else
            return true;
        return false;
    }

    /// <summary>As much of a cell as a sentence can quote.</summary>
    public static string Short(string text) => text.Length > 40 ? text[..40] + "…" : text.Trim();

    /// <summary>In the order of the rows, the file as a whole first.</summary>
    public IReadOnlyList<TableProblem> Sorted()
    {
        List<TableProblem> sorted = [.. kept.OrderBy(problem => problem.Row ?? 0)];
        if (beyond > 0)
            sorted.Add(new TableProblem(AnyRefusal ? Severity.Refuse : Severity.Warn, file, null, "", $"{beyond} more problems are not listed. Put these right first."));
        return sorted;
    }

    private void Add(TableProblem problem)
    {
        if (kept.Count < Most)
            kept.Add(problem);
        else
            beyond++;
    }
}
