using System.Text;
using System.Text.Unicode;

namespace FabLink.Portal.Platform.Tables;

/// <summary>Bytes to text: by byte order mark, else UTF-8 when it is valid UTF-8, else Windows-1252.</summary>
internal static class TextContent
{
    public static string Decode(ReadOnlySpan<byte> bytes, out string? remark)
    {
        remark = null;
        if (bytes.StartsWith(Encoding.UTF8.Preamble))
            return Encoding.UTF8.GetString(bytes[3..]);
        if (bytes.StartsWith(Encoding.Unicode.Preamble))
            return Encoding.Unicode.GetString(bytes[2..]);
        if (bytes.StartsWith(Encoding.BigEndianUnicode.Preamble))
            return Encoding.BigEndianUnicode.GetString(bytes[2..]);
        if (bytes.Contains((byte)0))
            throw new SheetRefusal("This is neither text nor a workbook. Upload the values as .csv or .xlsx.");
        if (Utf8.IsValid(bytes))
            return Encoding.UTF8.GetString(bytes);

        remark = "The file is not UTF-8; it was read as Windows-1252. Check letters with accents and signs such as ° and Ø.";
        return CodePagesEncodingProvider.Instance.GetEncoding(1252)!.GetString(bytes);
    }
}
