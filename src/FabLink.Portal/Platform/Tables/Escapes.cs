using System.Globalization;
using System.Text;

namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Characters that XML cannot hold stand in a workbook as <c>_x000D_</c> (ISO/IEC 29500-1, 22.9.2.19, ST_Xstring). A zero and half
/// a surrogate pair are no text for anybody behind us; they stay as they were written.
/// </summary>
internal static class Escapes
{
    public static string Undo(string text)
    {
        if (!text.Contains("_x", StringComparison.Ordinal))
            return text;
        var plain = new StringBuilder(text.Length);
        for (var i = 0; i < text.Length; i++)
        {
            if (text[i] == '_' && i + 6 < text.Length && text[i + 1] == 'x' && text[i + 6] == '_'
                && ushort.TryParse(text.AsSpan(i + 2, 4), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out var code)
                && code != 0 && !char.IsSurrogate((char)code))
            {
                plain.Append((char)code);
                i += 6;
            }
            else
            {
                plain.Append(text[i]);
            }
        }

        return plain.ToString();
    }
}
