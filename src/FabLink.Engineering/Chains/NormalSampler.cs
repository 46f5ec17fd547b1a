using System.Runtime.CompilerServices;

namespace FabLink.Engineering.Chains;

/// <summary>Standard normal draws by the ziggurat of 256 layers (G. Marsaglia, W. W. Tsang, Journal of Statistical Software 5(8),
/// 2000) with the layer and the position taken from separate bits (J. A. Doornik, 2005). Exact in distribution to double precision.</summary>
internal static class NormalSampler
{
    private const int Layers = 256;
    private const double Tail = 3.6541528853610088;

    private static readonly double[] Edge = Edges();
    private static readonly double[] Inside = [.. Enumerable.Range(0, Layers).Select(i => Edge[i + 1] / Edge[i])];

    /// <summary>Adds scale × z to every element; <paramref name="bits"/> is as long as <paramref name="sums"/>.</summary>
    public static void Add(Span<double> sums, double scale, ReadOnlySpan<ulong> bits, ref RandomStream stream)
    {
        for (var k = 0; k < sums.Length; k++)
        {
            var drawn = bits[k];
            var layer = (int)(drawn & (Layers - 1));
            var signed = Signed(drawn);
            var x = signed * Edge[layer];
            if (Math.Abs(signed) >= Inside[layer])
                x = Rare(x, layer, ref stream);
            sums[k] += scale * x;
        }
    }

    /// <summary>Uniform on (−1, 1) from the bits that do not choose the layer.</summary>
    private static double Signed(ulong bits) => (((long)bits >> 11) + 0.5) * (1.0 / (1L << 52));

    /// <summary>About one draw in a hundred falls on a layer's sloping edge or into the tail.</summary>
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static double Rare(double x, int layer, ref RandomStream random)
    {
        while (true)
        {
            if (layer == 0)
                return FromTail(x < 0, ref random);
            var outer = Math.Exp(-0.5 * ((Edge[layer] * Edge[layer]) - (x * x)));
            var inner = Math.Exp(-0.5 * ((Edge[layer + 1] * Edge[layer + 1]) - (x * x)));
            if (inner + (random.NextUnit() * (outer - inner)) < 1.0)
                return x;

            var bits = random.NextBits();
            layer = (int)(bits & (Layers - 1));
            var signed = Signed(bits);
            x = signed * Edge[layer];
            if (Math.Abs(signed) < Inside[layer])
                return x;
        }
    }

    private static double FromTail(bool negative, ref RandomStream random)
    {
        double x;
        double y;
        do
        {
            x = Math.Log(random.NextUnit()) / Tail;
            y = Math.Log(random.NextUnit());
        }
        while (-2 * y < x * x);
        return negative ? x - Tail : Tail - x;
    }

    /// <summary>Right edges of layers of equal area V under exp(−x²/2); layer 0 is the base strip with the tail, as wide as V/f(Tail).</summary>
    private static double[] Edges()
    {
        var f = Math.Exp(-0.5 * Tail * Tail);
        var area = (Tail * f) + (Math.Sqrt(2 * Math.PI) * Judging.Normal.UpperTail(Tail));
        var edges = new double[Layers + 1];
        edges[0] = area / f;
        edges[1] = Tail;
        for (var i = 2; i < Layers; i++)
        {
            edges[i] = Math.Sqrt(-2 * Math.Log((area / edges[i - 1]) + f));
            f = Math.Exp(-0.5 * edges[i] * edges[i]);
        }
        edges[Layers] = 0;
        return edges;
    }
}
