namespace FabLink.Engineering;

/// <summary>What decimal lacks.</summary>
internal static class DecimalMath
{
    /// <summary>√x to the last digits that a decimal holds; exact for exact squares of up to 14 digits.</summary>
    public static decimal SquareRoot(decimal x)
    {
        if (x < 0)
            throw new InputError("", $"{x} has no square root.");
        if (x == 0)
            return 0;
        var root = (decimal)Math.Sqrt((double)x);
        if (root == 0)
            root = 1e-14m;
        // Newton doubles the digits: two steps from a double reach the end of a decimal, the third only confirms.
        for (var i = 0; i < 4; i++)
            root = (root + x / root) / 2;
        return root;
    }
}
