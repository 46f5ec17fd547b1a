using System.Text;
using System.Xml;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Forward reading of one part of a workbook with limits on everything an XML reader keeps in memory: bytes per node, depth,
/// distinct names, text per cell. Document type definitions, so entities too, are prohibited, and nothing is resolved.
/// </summary>
internal sealed class GuardedXml : IDisposable
{
    private const int DeepestElement = 64;
    private const string NotASpreadsheet = "The workbook is not one that a spreadsheet wrote. Save it again as .xlsx and upload that.";

    private readonly WatchedStream stream;
    private readonly XmlReader xml;

    public GuardedXml(Stream part, UnpackedBudget budget)
    {
        stream = new WatchedStream(part, budget);
        xml = XmlReader.Create(stream, new XmlReaderSettings
        {
            DtdProcessing = DtdProcessing.Prohibit,
            XmlResolver = null,
            NameTable = new BoundedNameTable(),
            IgnoreComments = true,
            IgnoreProcessingInstructions = true,
            CloseInput = true,
        });
    }

    public string LocalName => xml.LocalName;

    public bool IsElement => xml.NodeType == XmlNodeType.Element;

    public bool IsEmptyElement => xml.IsEmptyElement;

    public int Depth => xml.Depth;

    /// <summary>Next node, whatever it is.</summary>
    public bool Read()
    {
        stream.NextNode();
        if (!xml.Read())
            return false;
        return xml.Depth <= DeepestElement ? true : throw new SheetRefusal(NotASpreadsheet);
    }

    public string? Attribute(string name) => xml.GetAttribute(name);

    public string? Attribute(string name, string space) => xml.GetAttribute(name, space);

    /// <summary>The text of the current element; leaves the reader on its end tag.</summary>
    public string ReadText() => Collect(rich: false);

    /// <summary>The text of all runs of a rich string, without phonetic hints (ISO/IEC 29500-1, 18.4.4 r, 18.4.6 rPh, 18.4.8 si).</summary>
    public string ReadRichText() => Collect(rich: true);

    private string Collect(bool rich)
    {
        if (xml.IsEmptyElement)
            return "";
        var depth = xml.Depth;
        string? first = null;
        StringBuilder? all = null;
        var phonetic = 0;
        var inText = !rich;
        while (Read() && xml.Depth > depth)
        {
            if (xml.NodeType is XmlNodeType.Text or XmlNodeType.CDATA or XmlNodeType.SignificantWhitespace or XmlNodeType.Whitespace)
            {
                if (!inText)
                    continue;
                if (first is null)
                    first = xml.Value;
                else
                    (all ??= new StringBuilder(first)).Append(xml.Value);
                if ((all?.Length ?? first.Length) > SheetLimits.CellCharacters)
                    throw new SheetRefusal($"A cell holds more than {SheetLimits.CellCharacters} characters, which no spreadsheet can show.");
            }
            else if (rich && !xml.IsEmptyElement)
            {
                var opens = xml.NodeType == XmlNodeType.Element;
                if (xml.LocalName == "rPh")
                    phonetic += opens ? 1 : -1;
                inText = opens && xml.LocalName == "t" && phonetic == 0;
            }
        }

        return Escapes.Undo(all?.ToString() ?? first ?? "");
    }

    public void Dispose()
    {
        xml.Dispose();
        stream.Dispose();
    }

    /// <summary>An XML reader keeps every distinct name for ever; a workbook has a few hundred.</summary>
    private sealed class BoundedNameTable : NameTable
    {
        private const int MostNames = 10_000;
        private int names;

        public override string Add(char[] key, int start, int len)
        {
            if (Get(key, start, len) is { } known)
                return known;
            return ++names > MostNames ? throw new SheetRefusal(NotASpreadsheet) : base.Add(key, start, len);
        }
    }
}
