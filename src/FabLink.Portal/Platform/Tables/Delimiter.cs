namespace FabLink.Portal.Platform.Tables;

/// <summary>
/// Which character separates the fields: the one that gives most lines the same number of fields. So commas that are
/// decimal marks lose, because the header line has none of them.
/// </summary>
internal static class Delimiter
{
    private const int LinesLookedAt = 50;

    // In order of preference when two fit equally well.
    private static ReadOnlySpan<char> Candidates => ['\t', ';', ','];

    /// <returns>The delimiter, and where the table starts: behind a first line like <c>sep=;</c>, else at 0.</returns>
    public static (char Delimiter, int Start) Detect(ReadOnlySpan<char> text)
    {
        if (text.StartsWith("sep=", StringComparison.OrdinalIgnoreCase) && text.Length > 4 && Candidates.Contains(text[4]))
        {
            var end = text.IndexOfAny('\r', '\n');
            return (text[4], end < 0 ? text.Length : end);
        }

        var counts = new int[LinesLookedAt, Candidates.Length];
        var lines = Count(text, counts);
        var best = ',';
        var bestScore = 0.0;
        for (var candidate = 0; candidate < Candidates.Length; candidate++)
        {
            var (agreeing, fields) = MostCommon(counts, lines, candidate);
            // A wider table breaks a tie between equally regular readings.
            var score = agreeing + fields / 1000.0;
            if (agreeing > 0 && score > bestScore)
            {
                bestScore = score;
                best = Candidates[candidate];
            }
        }

        return (best, 0);
    }

    private static int Count(ReadOnlySpan<char> text, int[,] counts)
    {
        var line = 0;
        var quoted = false;
        var filled = false;
        for (var i = 0; i < text.Length && line < LinesLookedAt; i++)
        {
            var c = text[i];
            if (c == '"')
                quoted = !quoted;
            if (quoted)
                continue;
            if (c is '\n' or '\r')
            {
                if (filled)
                    line++;
                filled = false;
                continue;
            }

            filled = true;
            var candidate = Candidates.IndexOf(c);
            if (candidate >= 0)
                counts[line, candidate]++;
        }

        return filled && line < LinesLookedAt ? line + 1 : line;
    }

    private static (int Lines, int Fields) MostCommon(int[,] counts, int lines, int candidate)
    {
        var best = (Lines: 0, Fields: 0);
        for (var i = 0; i < lines; i++)
        {
            var fields = counts[i, candidate];
            var same = 0;
            for (var j = 0; j < lines; j++)
                same += counts[j, candidate] == fields ? 1 : 0;
            if (fields > 0 && (same, fields).CompareTo(best) > 0)
                best = (same, fields);
        }

        return best;
    }
}
