using System.IO.Compression;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// The first visible worksheet with something in it, of an Office Open XML workbook (ISO/IEC 29500-1 clause 18).
/// Our own reader rather than a library's, because what comes from outside must not decide how much is unpacked, and because a
/// formula must be known as one. Document type definitions are prohibited, links are never followed, macros refused.
/// </summary>
internal sealed class Workbook
{
    private readonly ZipArchive package;
    private readonly UnpackedBudget budget = new();

    private Workbook(ZipArchive package) => this.package = package;

    public static Sheet Read(ArraySegment<byte> content, string fileName)
    {
        RefuseManyParts(content);
        using var stream = new MemoryStream(content.Array!, content.Offset, content.Count, writable: false);
        using var package = new ZipArchive(stream, ZipArchiveMode.Read);
        return new Workbook(package).Read(fileName);
    }

    // The archive class believes the number of entries in the directory; an honest entry needs its signature in the file.
    private static void RefuseManyParts(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Count("PK\u0001\u0002"u8) > SheetLimits.PackageParts)
            throw new SheetRefusal($"The workbook has more than {SheetLimits.PackageParts} files inside. Save it again without pictures and attachments.");
    }

    private Sheet Read(string fileName)
    {
        if (package.Entries.Any(entry => entry.IsEncrypted))
            throw new SheetRefusal("The workbook is protected by a password. Save it without the password and upload that.");
        if (package.GetEntry("[Content_Types].xml") is null)
            throw new SheetRefusal("This is a zip archive but not a workbook. Upload the .csv or .xlsx file itself.");
        if (package.Entries.Any(entry => entry.Name.Equals("vbaProject.bin", StringComparison.OrdinalIgnoreCase)))
            throw new SheetRefusal("The workbook holds macros. Save it as .xlsx, without macros, and upload that.");

        var book = Relations("").FirstOrDefault(relation => relation.Is("officeDocument"))?.Target ?? "xl/workbook.xml";
        if (package.GetEntry(book) is null)
            throw new SheetRefusal("There is no spreadsheet in this file. Upload the measured values as .csv or .xlsx.");

        var relations = Relations(book);
        var (sheets, epoch1904) = Sheets(book);
        var cells = new WorksheetCells(
            SharedStrings(relations), NumberFormats.Read(this, Part(relations, "styles")), epoch1904);

        var visible = sheets.Where(sheet => sheet.Visible).ToList();
        foreach (var sheet in visible)
        {
            var part = relations.FirstOrDefault(relation => relation.Id == sheet.Relation && relation.Is("worksheet"));
            if (part is null || package.GetEntry(part.Target) is null)
                continue;
            var rows = cells.Read(this, part.Target);
            if (rows.Count > 0)
                return new Sheet(fileName, sheet.Name, rows, Remarks(sheet.Name, visible.Count));
        }

        throw new SheetRefusal("The workbook has no visible worksheet with anything in it.");
    }

    private static List<string> Remarks(string name, int visible) => visible < 2
        ? []
        : [$"Only the worksheet “{name}” was read; the workbook has {visible} worksheets."];

    /// <summary>A guarded reader over one part; null when the workbook has no such part.</summary>
    public GuardedXml? Open(string? part) =>
        part is not null && package.GetEntry(part) is { } entry ? new GuardedXml(entry.Open(), budget) : null;

    private static string? Part(List<Relation> relations, string kind) =>
        relations.FirstOrDefault(relation => relation.Is(kind))?.Target;

    private (List<WorksheetEntry> Sheets, bool Epoch1904) Sheets(string book)
    {
        var sheets = new List<WorksheetEntry>();
        var epoch1904 = false;
        using var xml = Open(book)!;
        while (xml.Read())
        {
            if (!xml.IsElement)
                continue;
            if (xml.LocalName == "workbookPr")
                // Extensions carry an element of the same name; only one of them has the attribute.
                epoch1904 |= xml.Attribute("date1904") is "1" or "true";
            else if (xml.LocalName == "sheet")
                sheets.Add(new WorksheetEntry(
                    xml.Attribute("name") ?? "", RelationId(xml), xml.Attribute("state") is null or "visible"));
            if (sheets.Count > SheetLimits.Worksheets)
                throw new SheetRefusal($"The workbook has more than {SheetLimits.Worksheets} worksheets.");
        }

        return (sheets, epoch1904);
    }

    // The attribute's namespace differs between the strict and the transitional form of the standard.
    private static string? RelationId(GuardedXml xml) =>
        xml.Attribute("id", "http://schemas.openxmlformats.org/officeDocument/2006/relationships")
        ?? xml.Attribute("id", "http://purl.oclc.org/ooxml/officeDocument/relationships");

    private List<Relation> Relations(string part)
    {
        var slash = part.LastIndexOf('/');
        var folder = slash < 0 ? "" : part[..(slash + 1)];
        var relations = new List<Relation>();
        using var xml = Open($"{folder}_rels/{part[(slash + 1)..]}.rels");
        while (xml is not null && xml.Read())
        {
            if (!xml.IsElement || xml.LocalName != "Relationship" || xml.Attribute("TargetMode") == "External")
                continue;
            if (xml.Attribute("Id") is { } id && xml.Attribute("Type") is { } type && xml.Attribute("Target") is { } target)
                relations.Add(new Relation(id, type, target.StartsWith('/') ? target[1..] : folder + target));
        }

        return relations;
    }

    private List<string> SharedStrings(List<Relation> relations)
    {
        var strings = new List<string>();
        var characters = 0L;
        using var xml = Open(Part(relations, "sharedStrings"));
        while (xml is not null && xml.Read())
        {
            if (!xml.IsElement || xml.LocalName != "si")
                continue;
            var text = xml.ReadRichText();
            strings.Add(text);
            if ((characters += text.Length) > SheetLimits.Characters || strings.Count > SheetLimits.Cells)
                throw new SheetRefusal("The workbook holds too much text. Split it into several files.");
        }

        return strings;
    }

    private sealed record WorksheetEntry(string Name, string? Relation, bool Visible);

    private sealed record Relation(string Id, string Type, string Target)
    {
        public bool Is(string kind) => Type.EndsWith("/" + kind, StringComparison.Ordinal);
    }
}
