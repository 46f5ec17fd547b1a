namespace FabLink.Portal.Platform.Tables;

/// <summary>What a cell held before it became text.</summary>
public enum CellKind
{
    Empty,
    Text,

    /// <summary>A number that a spreadsheet stored as one; the text has a decimal point and at most 15 digits.</summary>
    Number,

    /// <summary>A number that the spreadsheet shows as a date or a time; the text is that date.</summary>
    Date,

    /// <summary>A formula. It is never computed; the text is what the spreadsheet last showed, which may be out of date.</summary>
    Formula,

    /// <summary>TRUE or FALSE.</summary>
    Logical,

    /// <summary>#REF!, #DIV/0! and the like.</summary>
    Error,
}

public readonly record struct Cell(string Text, CellKind Kind)
{
    public static Cell Empty { get; } = new("", CellKind.Empty);

    public bool IsBlank => string.IsNullOrWhiteSpace(Text);

    public override string ToString() => Text;
}

/// <summary>One row with its number as a spreadsheet shows it, counted from 1 and blank rows included.</summary>
public sealed class SheetRow(int number, Cell[] cells)
{
    public int Number => number;

    /// <summary>How many columns the row has, without the empty ones at its end.</summary>
    public int Count => cells.Length;

    /// <summary>The cell of a column counted from 0; empty beyond the end of the row.</summary>
    public Cell this[int column] => (uint)column < (uint)cells.Length ? cells[column] : Cell.Empty;
}

/// <summary>A table as it stands in a file: plain cells, nothing interpreted.</summary>
/// <param name="FileName">As it was uploaded, for messages.</param>
/// <param name="Name">The worksheet's name; empty for text.</param>
/// <param name="Rows">Rows that are not blank, in order.</param>
/// <param name="Remarks">What a person should know about how it was read (other worksheets, the encoding).</param>
public sealed record Sheet(string FileName, string Name, IReadOnlyList<SheetRow> Rows, IReadOnlyList<string> Remarks);

/// <summary>A table, or why there is none.</summary>
public abstract record SheetReading
{
    private SheetReading()
    {
    }

    public sealed record Table(Sheet Sheet) : SheetReading;

    /// <param name="FileName">As it was uploaded.</param>
    /// <param name="Row">Where the reader stopped; null when it is the file as a whole.</param>
    /// <param name="Reason">One or two sentences: what is wrong and what to do.</param>
    public sealed record Refused(string FileName, int? Row, string Reason) : SheetReading;
}

/// <summary>Thrown inside this folder only; <see cref="SheetReader"/> turns it into <see cref="SheetReading.Refused"/>.</summary>
internal sealed class SheetRefusal(string reason, int? row = null) : Exception(reason)
{
    public int? Row { get; } = row;
}
