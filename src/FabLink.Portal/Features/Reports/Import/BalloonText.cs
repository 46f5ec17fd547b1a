using System.Globalization;

namespace FabLink.Portal.Features.Reports.Import;

/// <summary><c>12</c>, <c>#12</c>, <c>(12)</c>, and with the instance <c>12.3</c>, <c>12,3</c>, <c>12-3</c>, <c>12/3</c>.</summary>
public static class BalloonText
{
    public const int Largest = 9999;
    public const int LargestInstance = 999;

    public static bool TryParse(ReadOnlySpan<char> text, out int balloon, out int? instance)
    {
        text = text.Trim();
        if (text is ['(', .., ')'])
            text = text[1..^1].Trim();
        if (text is ['#', ..])
            text = text[1..].TrimStart();
        instance = null;
        var mark = text.IndexOfAny(".,-/");
        if (!Whole(mark < 0 ? text : text[..mark], Largest, out balloon))
            return false;
        if (mark < 0)
            return true;
        var good = Whole(text[(mark + 1)..], LargestInstance, out var number);
        instance = good ? number : null;
        return good;
    }

    private static bool Whole(ReadOnlySpan<char> text, int largest, out int number) =>
        int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out number) && number >= 1 && number <= largest;
}
