using System.Xml;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Reads a table that somebody outside made: comma, semicolon or tab separated text, or an Office Open XML workbook
/// (ISO/IEC 29500). What the file is, its first bytes say, not its name. Nothing in it is ever run, computed or fetched.
/// </summary>
public static class SheetReader
{
    /// <summary>Reads to the end of the stream or to the size limit, whichever comes first; does not close it.</summary>
    public static SheetReading Read(Stream stream, string fileName)
    {
        try
        {
            return new SheetReading.Table(ReadContent(ReadBytes(stream), fileName));
        }
        catch (SheetRefusal refusal)
        {
            return new SheetReading.Refused(fileName, refusal.Row, refusal.Message);
        }
        catch (Exception fault) when (fault is InvalidDataException or XmlException or EndOfStreamException)
        {
            // Whatever a broken package or broken XML can raise; the person can do one thing about all of them.
            return new SheetReading.Refused(fileName, null, "The workbook is damaged. Open it in a spreadsheet, save it again as .xlsx and upload that.");
        }
    }

    /// <summary>Reads text that was pasted, from a spreadsheet (tabs between the columns) or from a file.</summary>
    public static SheetReading ReadPasted(string text, string name = "pasted text")
    {
        try
        {
            return new SheetReading.Table(DelimitedText.Read(text, name, []));
        }
        catch (SheetRefusal refusal)
        {
            return new SheetReading.Refused(name, refusal.Row, refusal.Message);
        }
    }

    private static Sheet ReadContent(ArraySegment<byte> content, string fileName)
    {
        ReadOnlySpan<byte> bytes = content;
        if (bytes.IsEmpty)
            throw new SheetRefusal("The file is empty.");
        if (bytes.StartsWith("PK"u8))
            return Workbook.Read(content, fileName);
        if (bytes.StartsWith(CompoundFile))
            throw new SheetRefusal(IsEncrypted(bytes)
                ? "The workbook is protected by a password. Save it without the password and upload that."
                : "This is an old .xls workbook. Save it as .xlsx or .csv and upload that.");
        if (bytes.StartsWith("%PDF"u8))
            throw new SheetRefusal("This is a PDF, not a table. Upload the measured values as .csv or .xlsx, or type them in.");

        var text = TextContent.Decode(bytes, out var remark);
        return DelimitedText.Read(text, fileName, remark is null ? [] : [remark]);
    }

    private static ArraySegment<byte> ReadBytes(Stream stream)
    {
        var capacity = stream.CanSeek ? Math.Clamp(stream.Length - stream.Position, 0, SheetLimits.FileBytes) + 1 : 64 * 1024;
        using var kept = new MemoryStream((int)capacity);
        var chunk = new byte[64 * 1024];
        while (stream.Read(chunk) is var count and > 0)
        {
            if (kept.Length + count > SheetLimits.FileBytes)
                throw new SheetRefusal($"The file is larger than {SheetLimits.FileBytes / 1024 / 1024} MB. Split it into several files.");
            kept.Write(chunk, 0, count);
        }

        return new ArraySegment<byte>(kept.GetBuffer(), 0, (int)kept.Length);
    }

    // The container of the binary workbooks, and of encrypted ones, whose stream is named in UTF-16.
    private static ReadOnlySpan<byte> CompoundFile => [0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];

    private static bool IsEncrypted(ReadOnlySpan<byte> bytes) =>
        bytes.IndexOf(System.Text.Encoding.Unicode.GetBytes("EncryptedPackage")) >= 0;
}
