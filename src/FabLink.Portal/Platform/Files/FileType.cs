namespace FabLink.Portal.Platform.Files;

/// <summary>A kind of file that the portal keeps, known by its content and never by its name.</summary>
/// <param name="Code">As written in the database.</param>
/// <param name="Name">As said to a person.</param>
/// <param name="ContentType">What it is delivered as.</param>
/// <param name="Extensions">Endings that fit; the first is added to a name that has none of them.</param>
/// <param name="MayShowInPage">Harmless enough to be shown by the browser instead of being saved.</param>
public sealed record FileType(string Code, string Name, string ContentType, IReadOnlyList<string> Extensions, bool MayShowInPage = false)
{
    public static readonly FileType Pdf = new("pdf", "PDF", "application/pdf", [".pdf"], MayShowInPage: true);
    public static readonly FileType Dxf = new("dxf", "DXF", "image/vnd.dxf", [".dxf"]);
    public static readonly FileType Step = new("step", "STEP", "model/step", [".step", ".stp", ".p21"]);
    public static readonly FileType Png = new("png", "PNG picture", "image/png", [".png"], MayShowInPage: true);
    public static readonly FileType Jpeg = new("jpeg", "JPEG picture", "image/jpeg", [".jpg", ".jpeg"], MayShowInPage: true);
    public static readonly FileType Text = new("text", "CSV or plain text", "text/csv", [".csv", ".txt", ".tsv"]);
    public static readonly FileType Xlsx = new("xlsx", "XLSX workbook", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", [".xlsx"]);
    public static readonly FileType Qif = new("qif", "QIF", "application/xml", [".qif", ".xml"]);

    public static IReadOnlyList<FileType> All { get; } = [Pdf, Dxf, Step, Png, Jpeg, Text, Xlsx, Qif];

    /// <exception cref="ArgumentException">No such code.</exception>
    public static FileType Of(string code) => All.FirstOrDefault(type => type.Code == code)
        ?? throw new ArgumentException($"'{code}' is no file type that the portal keeps.", nameof(code));

    public override string ToString() => Code;
}

/// <summary>What is accepted at one place, and up to which size.</summary>
public sealed record FileRule(long MaximumBytes, params IReadOnlyList<FileType> Accepted)
{
    private const long Megabyte = 1_000_000;

    /// <summary>What belongs to a drawing revision.</summary>
    public static readonly FileRule Drawing = new(100 * Megabyte, FileType.Pdf, FileType.Dxf, FileType.Step, FileType.Png, FileType.Jpeg);

    /// <summary>A file with measured values.</summary>
    public static readonly FileRule Measurements = new(20 * Megabyte, FileType.Text, FileType.Xlsx);

    /// <summary>A photograph or scan of a shop's own paper.</summary>
    public static readonly FileRule Evidence = new(25 * Megabyte, FileType.Jpeg, FileType.Png, FileType.Pdf);

    public string AcceptedNames => string.Join(", ", Accepted.Select(type => type.Name));
}

/// <summary>A file as it is kept.</summary>
/// <param name="Sha256">64 lower-case hexadecimal digits (FIPS 180-4); the name under which it is kept.</param>
/// <param name="Size">In bytes.</param>
public sealed record StoredFile(string Sha256, long Size, FileType Type);

/// <summary>The file is not taken; the message says why, which file, and what would be.</summary>
public sealed class FileRefused(string message) : Exception(message);
