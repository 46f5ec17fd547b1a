namespace FabLink.Portal.Features.Pieces;

/// <summary>Several serials in as few words as a person would use.</summary>
public static class Serials
{
    /// <summary><c>RH-140-001 to RH-140-004</c> when they run without a gap, otherwise a list; more than eight are counted.</summary>
    public static string Words(IReadOnlyCollection<string> serials)
    {
        var sorted = serials.Distinct().Order(StringComparer.Ordinal).ToList();
        if (sorted.Count > 2 && Running(sorted))
            return $"{sorted[0]} to {sorted[^1]}";
        return sorted.Count switch
        {
            0 => "no piece",
            1 => sorted[0],
            <= 8 => $"{string.Join(", ", sorted[..^1])} and {sorted[^1]}",
            _ => $"{sorted.Count} pieces ({sorted[0]} and others)",
        };
    }

    private static bool Running(List<string> sorted)
    {
        var (stem, first) = Split(sorted[0]);
        return first is { } start && sorted.Select(Split).Index().All(each => each.Item.Stem == stem && each.Item.Number == start + each.Index);
    }

    private static (string Stem, int? Number) Split(string serial)
    {
        var dash = serial.LastIndexOf('-');
        return dash > 0 && int.TryParse(serial.AsSpan(dash + 1), out var number) ? (serial[..dash], number) : (serial, null);
    }
}
