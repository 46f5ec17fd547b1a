using FabLink.Engineering.Sampling;

namespace FabLink.Engineering.Tests.Sampling;

public class RandomSampleTests
{
    [Fact]
    public void The_seed_gives_the_same_pieces_again_and_another_seed_others()
    {
        var drawn = RandomSample.Draw(200, 20, 7);

        Assert.Equal(drawn, RandomSample.Draw(200, 20, 7));
        Assert.NotEqual(drawn, RandomSample.Draw(200, 20, 8));
        Assert.Equal(20, drawn.Distinct().Count());
        Assert.Equal(drawn.Order(), drawn);
        Assert.All(drawn, place => Assert.InRange(place, 0, 199));
    }

    // 6,000 samples of 3 of 10: each of the 120 sets is expected 50 times; chi-square with 119 degrees of freedom is below 185 in 9,999 of 10,000
    // worlds, and the seeds are fixed.
    [Fact]
    public void Every_set_of_pieces_is_equally_likely()
    {
        var counts = Enumerable.Range(1, 6000).CountBy(seed => string.Join(' ', RandomSample.Draw(10, 3, seed))).ToDictionary();

        Assert.Equal(120, counts.Count);
        Assert.InRange(counts.Values.Sum(count => (count - 50.0) * (count - 50.0) / 50), 60, 185);
    }

    [Fact]
    public void The_whole_lot_and_nothing_are_samples_too_and_more_is_refused()
    {
        Assert.Equal([0, 1, 2], RandomSample.Draw(3, 3, 1));
        Assert.Empty(RandomSample.Draw(3, 0, 1));
        Assert.Equal("sampleSize", Assert.Throws<InputError>(() => RandomSample.Draw(3, 4, 1)).Field);
        Assert.Equal("lot", Assert.Throws<InputError>(() => RandomSample.Draw(0, 0, 1)).Field);
    }
}
