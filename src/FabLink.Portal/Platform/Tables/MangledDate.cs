using System.Text.RegularExpressions;

namespace FabLink.Portal.Platform.Tables;

/// <summary>Text that a spreadsheet made of a number: <c>12-Mar</c>, <c>12. Mrz</c>, <c>12.03.2026</c>, <c>2026-03-12</c>.</summary>
public static partial class MangledDate
{
    [GeneratedRegex(@"^\s*(?:\d{4}-\d{2}-\d{2}(?:[ T].*)?|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|\d{1,2}[-./ ]+(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?(?:[-./ ]+\d{2,4})?|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[-./ ]+\d{1,4})\s*$",
        RegexOptions.IgnoreCase | RegexOptions.CultureInvariant | RegexOptions.NonBacktracking)]
    private static partial Regex Pattern();

    public static bool Is(Cell cell) => cell.Kind == CellKind.Date || (cell.Kind == CellKind.Text && cell.Text.Length <= 40 && Pattern().IsMatch(cell.Text));
}
