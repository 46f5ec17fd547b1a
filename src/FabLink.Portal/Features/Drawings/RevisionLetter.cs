namespace FabLink.Portal.Features.Drawings;

/// <summary>
/// The letters of a drawing's revisions. ASME Y14.35: I, O, Q, S, X and Z are not used; after Y comes AA, then AB.
/// </summary>
public static class RevisionLetter
{
    public const string First = "A";

    private const string Letters = "ABCDEFGHJKLMNPRTUVWY";

    /// <summary>The letter after this one; null after YY, the last of two letters.</summary>
    /// <exception cref="ArgumentException">Not a revision letter.</exception>
    public static string? After(string letter)
    {
        if (!IsOne(letter))
            throw new ArgumentException($"“{letter}” is not a revision letter.", nameof(letter));
        var next = Letters.IndexOf(letter[^1], StringComparison.Ordinal) + 1;
        var head = letter[..^1];
        if (next < Letters.Length)
            return head + Letters[next];
        if (head.Length == 0)
            return "AA";
        return After(head) is { Length: 1 } before ? before + "A" : null;
    }

    public static bool IsOne(string? letter) => letter is { Length: 1 or 2 } && letter.All(one => Letters.Contains(one));

    /// <summary>Later letters come later: A before B, Y before AA.</summary>
    public static int Order(string letter) => letter.Aggregate(0, (order, one) => (order * (Letters.Length + 1)) + Letters.IndexOf(one, StringComparison.Ordinal) + 1);
}
