namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// How much a table may hold. Together they keep the memory of one reading under 256 MB, whatever the file claims.
/// </summary>
public static class SheetLimits
{
    public const int FileBytes = 20 * 1024 * 1024;
    public const int Rows = 200_000;
    public const int Columns = 64;

    /// <summary>A spreadsheet's own limit for one cell.</summary>
    public const int CellCharacters = 32_767;

    /// <summary>Cells kept, empty ones between filled ones included.</summary>
    public const int Cells = 1_600_000;

    /// <summary>Characters of all cells together.</summary>
    public const int Characters = 20_000_000;

    /// <summary>What the parts of a workbook may unpack to, together.</summary>
    public const long UnpackedBytes = 128L * 1024 * 1024;

    /// <summary>Files inside a workbook; a large real one has some hundred.</summary>
    public const int PackageParts = 2_000;

    public const int Worksheets = 255;
}
