using System.Globalization;
using System.Text;

namespace FabLink.Portal.Platform.Files;

/// <summary>Names of files as strangers send them, made safe to show and to hand on.</summary>
public static class FileNames
{
    private const int Longest = 120;

    /// <summary>
    /// The last part of a path, without control characters, characters that turn the direction of writing, or those
    /// that some system gives a meaning in names; at most 120 characters, the ending kept; never empty.
    /// </summary>
    public static string Safe(string? name)
    {
        var last = (name ?? "").Split('/', '\\')[^1];
        var kept = new StringBuilder(last.Length);
        foreach (var rune in last.EnumerateRunes())
        {
            var category = Rune.GetUnicodeCategory(rune);
            if (category is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator
                or UnicodeCategory.Surrogate or UnicodeCategory.PrivateUse or UnicodeCategory.OtherNotAssigned || rune == Rune.ReplacementChar)
                continue;
            kept.Append(rune.IsAscii && "<>:\"|?*".Contains((char)rune.Value, StringComparison.Ordinal) ? "_" : rune.ToString());
        }

        var safe = kept.ToString().Trim(' ', '.');
        if (safe.Length > Longest)
        {
            var ending = Path.GetExtension(safe) is { Length: <= 10 } extension ? extension : "";
            var length = Longest - ending.Length;
            if (char.IsHighSurrogate(safe[length - 1])) length--;
            safe = safe[..length].TrimEnd(' ', '.') + ending;
        }

        return safe.Length == 0 ? "file" : safe;
    }

    /// <summary>A safe name whose ending fits the content, so that the receiver's system opens it as what it is.</summary>
    public static string ForDownload(string? name, FileType type)
    {
        var safe = Safe(name);
        return type.Extensions.Contains(Path.GetExtension(safe).ToLowerInvariant()) ? safe : safe + type.Extensions[0];
    }
}
