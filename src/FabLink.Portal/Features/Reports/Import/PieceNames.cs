using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary>Which piece a row means: by its serial, by the end of its serial, or because there is only one.</summary>
internal sealed class PieceNames
{
    private readonly IReadOnlyList<ExpectedPiece> pieces;
    private readonly TableProblems problems;
    private readonly Dictionary<string, int?> bySerial = new(StringComparer.OrdinalIgnoreCase);

    public PieceNames(IReadOnlyList<ExpectedPiece> pieces, TableProblems problems)
    {
        this.pieces = pieces;
        this.problems = problems;
        for (var i = 0; i < pieces.Count; i++)
            bySerial.Add(pieces[i].Serial, i);
    }

    /// <summary>Its place in the list of pieces; null when the row was refused.</summary>
    public int? Find(MeasurementRow row)
    {
        // Each answer is remembered, so a serial that is wrong in a thousand rows is told once.
        if (!bySerial.TryGetValue(row.Serial, out var piece))
        {
            piece = row.Serial.Length == 0 ? TheOnlyOne(row) : ByEnd(row);
            bySerial.Add(row.Serial, piece);
        }

        return piece;
    }

    private int? TheOnlyOne(MeasurementRow row)
    {
        if (pieces.Count == 1)
            return 0;
        problems.Refuse(row.Row, "serial", $"The row does not say which piece was measured. Add a column serial with one of: {Listed()}.");
        return null;
    }

    private int? ByEnd(MeasurementRow row)
    {
        var found = -1;
        for (var i = 0; i < pieces.Count; i++)
        {
            var serial = pieces[i].Serial;
            var end = serial[(serial.LastIndexOfAny(['-', '/', ' ', '.']) + 1)..];
            if (!end.TrimStart('0').Equals(row.Serial.TrimStart('0'), StringComparison.OrdinalIgnoreCase) && !IsEnd(serial, row.Serial))
                continue;
            if (found >= 0)
            {
                found = -1;
                break;
            }

            found = i;
        }

        if (found >= 0)
        {
            problems.Warn(row.Row, "serial", $"“{row.Serial}” was read as {pieces[found].Serial}.");
            return found;
        }

        problems.Refuse(row.Row, "serial", $"No piece here has the serial “{TableProblems.Short(row.Serial)}”; all its rows were left out. Expected: {Listed()}.");
        return null;
    }

    /// <summary>140-002 of RH-140-002: from one of its separators on.</summary>
    private static bool IsEnd(string serial, string given) =>
        given.Length < serial.Length && serial.EndsWith(given, StringComparison.OrdinalIgnoreCase) && serial[^(given.Length + 1)] is '-' or '/' or ' ' or '.';

    private string Listed()
    {
        List<string> serials = [.. pieces.Where(piece => !piece.IsOver).Select(piece => piece.Serial)];
        return serials.Count == 0 ? "none" : string.Join(", ", serials.Take(8)) + (serials.Count > 8 ? " …" : "");
    }
}
