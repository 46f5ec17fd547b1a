using FabLink.Engineering.Chains;

namespace FabLink.Engineering.Sampling;

/// <summary>Which pieces of a lot are the sample: every set of that size is equally likely, and the seed gives the same one again.</summary>
public static class RandomSample
{
    /// <param name="lot">Pieces, 1 or more.</param>
    /// <param name="sampleSize">0 to the whole lot.</param>
    /// <param name="seed">Stated with the sample.</param>
    /// <returns>Places in the lot from 0, ascending.</returns>
    /// <exception cref="InputError">Out of those ranges.</exception>
    public static IReadOnlyList<int> Draw(int lot, int sampleSize, long seed)
    {
        if (lot is < 1 or > 1_000_000)
            throw new InputError("lot", $"A lot has 1 to 1000000 pieces, not {lot}.");
        if (sampleSize < 0 || sampleSize > lot)
            throw new InputError("sampleSize", $"A sample of a lot of {lot} has 0 to {lot} pieces, not {sampleSize}.");
        var stream = new RandomStream(seed, 0, 0);
        var places = Enumerable.Range(0, lot).ToArray();
        for (var i = 0; i < sampleSize; i++)
        {
            // Multiply and shift: the bias of 64 bits over a lot is far below anything a sample could show.
            var j = i + (int)Math.BigMul(stream.NextBits(), (ulong)(lot - i), out _);
            (places[i], places[j]) = (places[j], places[i]);
        }

        return [.. places[..sampleSize].Order()];
    }
}
