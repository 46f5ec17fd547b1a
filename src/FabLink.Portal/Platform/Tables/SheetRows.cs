using System.Runtime.InteropServices;

namespace FabLink.Portal.Platform.Tables;

/// <summary>Collects the rows of one table and stops at the limits.</summary>
internal sealed class SheetRows
{
    private readonly List<SheetRow> rows = [];
    private readonly List<Cell> cells = [];
    private int cellsKept;
    private long characters;

    public List<SheetRow> Rows => rows;

    /// <summary>Places a cell in the row being built; empty cells need not be placed.</summary>
    public void Place(int row, int column, Cell cell)
    {
        if (cell.Text.Length == 0)
            return;
        if (column >= SheetLimits.Columns)
            throw new SheetRefusal($"The table has more than {SheetLimits.Columns} columns. Keep the columns that are asked for and delete the rest.", row);
        if (cell.Text.Length > SheetLimits.CellCharacters)
            throw new SheetRefusal($"Column {column + 1} holds more than {SheetLimits.CellCharacters} characters, which no spreadsheet can show.", row);
        if ((characters += cell.Text.Length) > SheetLimits.Characters)
            throw new SheetRefusal($"The table holds more than {SheetLimits.Characters} characters. Split it into several files.", row);

        if (column >= cells.Count)
        {
            if ((cellsKept += column + 1 - cells.Count) > SheetLimits.Cells)
                throw new SheetRefusal($"The table has more than {SheetLimits.Cells} cells. Split it into several files.", row);
            while (cells.Count < column)
                cells.Add(Cell.Empty);
            cells.Add(cell);
        }
        else
        {
            cells[column] = cell;
        }
    }

    /// <summary>Closes the row; a row without any text leaves only a gap in the numbers.</summary>
    public void End(int row)
    {
        var blank = true;
        foreach (var cell in CollectionsMarshal.AsSpan(cells))
            blank &= cell.IsBlank;
        if (!blank)
        {
            if (rows.Count == SheetLimits.Rows)
                throw new SheetRefusal($"The table has more than {SheetLimits.Rows} rows. Split it into several files.", row);
            rows.Add(new SheetRow(row, [.. cells]));
        }

        cells.Clear();
    }
}
