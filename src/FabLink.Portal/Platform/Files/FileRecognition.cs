using System.Buffers;
using System.IO.Compression;
using System.Text;
using System.Text.RegularExpressions;
using System.Xml;

namespace FabLink.Portal.Platform.Files;

/// <summary>Tells from the content what a file is. It looks at as little as it can and unpacks nothing.</summary>
internal static partial class FileRecognition
{
    private const int HeadBytes = 64 * 1024;

    /// <summary>The sentinel that opens a binary DXF file: 18 letters, CR, LF, SUB, NUL.</summary>
    private static readonly byte[] BinaryDxf =
        [0x41, 0x75, 0x74, 0x6F, 0x43, 0x41, 0x44, 0x20, 0x42, 0x69, 0x6E, 0x61, 0x72, 0x79, 0x20, 0x44, 0x58, 0x46, 0x0D, 0x0A, 0x1A, 0x00];

    private static readonly SearchValues<byte> NotInText = SearchValues.Create(
        [0, 1, 2, 3, 4, 5, 6, 7, 8, 11, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 27, 28, 29, 30, 31, 127]);

    /// <param name="file">Seekable; its position afterwards is undefined.</param>
    /// <returns>Null when it is nothing that the portal keeps.</returns>
    public static FileType? Recognise(Stream file)
    {
        var head = Head(file);
        // ISO 32000-1 7.5.2 puts the header first; mail gateways put lines before it, hence the first kilobyte as in its annex H.
        if (head[..Math.Min(head.Length, 1024)].IndexOf("%PDF-"u8) >= 0) return FileType.Pdf;
        // ISO/IEC 15948 5.2, PNG signature; ITU-T T.81 B.1.1.3, SOI followed by a marker.
        if (head.StartsWith((ReadOnlySpan<byte>)[0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A])) return FileType.Png;
        if (head.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xD8, 0xFF])) return FileType.Jpeg;
        if (head.StartsWith(BinaryDxf)) return FileType.Dxf;
        if (head.StartsWith("PK"u8)) return IsWorkbook(file) ? FileType.Xlsx : null;

        var start = Encoding.UTF8.GetString(head[..Math.Min(head.Length, 4096)]).TrimStart('\uFEFF', ' ', '\t', '\r', '\n');
        // ISO 10303-21, 5.3: the exchange structure begins with this token.
        if (start.StartsWith("ISO-10303-21;", StringComparison.Ordinal)) return FileType.Step;
        if (AsciiDxf().IsMatch(start)) return FileType.Dxf;
        // Markup is measured data only as QIF; as "text" a browser somewhere might yet take it for a page.
        if (start.StartsWith('<')) return IsQif(file) ? FileType.Qif : null;
        return IsText(file) ? FileType.Text : null;
    }

    private static ReadOnlySpan<byte> Head(Stream file)
    {
        file.Position = 0;
        var buffer = new byte[HeadBytes];
        return buffer.AsSpan(0, file.ReadAtLeast(buffer, HeadBytes, throwOnEndOfStream: false));
    }

    /// <summary>ISO/IEC 29500-2: a package whose parts include a workbook. Only the directory of the archive is read.</summary>
    private static bool IsWorkbook(Stream file)
    {
        try
        {
            file.Position = 0;
            using var package = new ZipArchive(file, ZipArchiveMode.Read, leaveOpen: true);
            var names = package.Entries.Select(entry => entry.FullName.Replace('\\', '/').TrimStart('/')).ToList();
            return names.Contains("[Content_Types].xml")
                && names.Exists(name => name.StartsWith("xl/", StringComparison.OrdinalIgnoreCase) && Workbook().IsMatch(name));
        }
        catch (Exception broken) when (broken is InvalidDataException or IOException or ArgumentException or NotSupportedException)
        {
            return false;
        }
    }

    /// <summary>ISO 23952: the root element, in a namespace of QIF. Nothing outside the file is ever fetched.</summary>
    private static bool IsQif(Stream file)
    {
        try
        {
            file.Position = 0;
            using var reader = XmlReader.Create(file, new XmlReaderSettings
            {
                DtdProcessing = DtdProcessing.Prohibit,
                XmlResolver = null,
                MaxCharactersInDocument = 1_000_000,
                CloseInput = false,
            });
            return reader.MoveToContent() == XmlNodeType.Element
                && reader.LocalName == "QIFDocument"
                && reader.NamespaceURI.StartsWith("http://qifstandards.org/xsd/qif", StringComparison.Ordinal);
        }
        catch (XmlException)
        {
            return false;
        }
    }

    private static bool IsText(Stream file)
    {
        file.Position = 0;
        var buffer = new byte[HeadBytes];
        for (var first = true; ; first = false)
        {
            var length = file.ReadAtLeast(buffer, buffer.Length, throwOnEndOfStream: false);
            if (length == 0) return !first;
            var block = buffer.AsSpan(0, length);
            // UTF-16 says so by its byte order mark; its zero bytes are half of ordinary letters.
            if (first && (block.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xFE]) || block.StartsWith((ReadOnlySpan<byte>)[0xFE, 0xFF]))) return true;
            if (block.IndexOfAny(NotInText) >= 0) return false;
        }
    }

    /// <summary>DXF in ASCII: comments (group 999), then group 0 with SECTION.</summary>
    [GeneratedRegex(@"\A(?:[ \t]*999[ \t]*\r?\n[^\r\n]*\r?\n)*[ \t]*0[ \t]*\r?\n[ \t]*SECTION[ \t]*\r?\n", RegexOptions.None, matchTimeoutMilliseconds: 1000)]
    private static partial Regex AsciiDxf();

    [GeneratedRegex(@"\Axl/workbook\d*\.(xml|bin)\z", RegexOptions.IgnoreCase)]
    private static partial Regex Workbook();
}
