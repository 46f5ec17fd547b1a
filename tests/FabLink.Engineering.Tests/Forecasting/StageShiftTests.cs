using System.Globalization;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Forecasting;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace FabLink.Engineering.Tests.Forecasting;

public class StageShiftTests
{
    private const double Planted = -1.2;
    private const double Spread = 0.4;
    private static readonly ShiftPrior Prior = new(Scale: 0.05);

    // Coverage of an interval of 95 %, counted over many seeds; the score interval of the count itself is 99.9 % (Wilson 1927).
    [Theory]
    [InlineData(3)]
    [InlineData(10)]
    [InlineData(50)]
    public void A_planted_shift_lies_in_its_stated_interval_as_often_as_is_said(int pieces)
    {
        const int Trials = 2000;
        var (mean, next) = (0, 0);
        for (var seed = 0; seed < Trials; seed++)
        {
            var random = new MersenneTwister(seed);
            var answer = StageShift.Learn(Pieces(random, pieces), Prior);
            mean += Holds(answer.Interval, Planted) ? 1 : 0;
            next += Holds(answer.Predict(100, null, null).Interval, 100 + Normal.Sample(random, Planted, Spread)) ? 1 : 0;
        }

        Assert.True(Holds(WilsonInterval.Of(mean, Trials, 0.999), StageShift.Confidence), $"the mean lay inside {mean} of {Trials} times");
        Assert.True(Holds(WilsonInterval.Of(next, Trials, 0.999), StageShift.Confidence), $"the next piece lay inside {next} of {Trials} times");
    }

    [Theory]
    [InlineData(3)]
    [InlineData(10)]
    [InlineData(50)]
    public void More_pieces_bring_the_mean_closer(int pieces)
    {
        var answer = StageShift.Learn(Pieces(new MersenneTwister(7), pieces), Prior);

        Assert.True(Holds(answer.Interval, Planted));
        // Standard error of a mean, common practice: four of it is not left by chance.
        Assert.Equal(Planted, answer.Mean, 4 * Spread / Math.Sqrt(pieces));
    }

    // Oracle: Student's t of Math.NET Numerics, with location and scale.
    [Theory]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(10)]
    [InlineData(200)]
    public void Intervals_and_probabilities_are_those_of_student(int pieces)
    {
        var answer = StageShift.Learn(Pieces(new MersenneTwister(11), pieces), Prior);
        var mean = new StudentT(answer.Mean, answer.Spread / Math.Sqrt(answer.Weight), answer.Degrees);
        Assert.Equal(0.025, mean.CumulativeDistribution(answer.Interval.Lower), 1e-9);
        Assert.Equal(0.975, mean.CumulativeDistribution(answer.Interval.Upper), 1e-9);

        var prediction = answer.Predict(500, 498.5, 499.2);
        var next = new StudentT(500 + answer.Mean, answer.Spread * Math.Sqrt(1 + (1 / answer.Weight)), answer.Degrees);
        Assert.Equal(0.025, next.CumulativeDistribution(prediction.Interval.Lower), 1e-9);
        Assert.Equal(0.975, next.CumulativeDistribution(prediction.Interval.Upper), 1e-9);
        Assert.Equal(next.CumulativeDistribution(498.5) + 1 - next.CumulativeDistribution(499.2), prediction.LeavesLimits, 1e-9);
    }

    // Gelman and others, Bayesian Data Analysis, 3rd edition, 3.2: without prior knowledge the interval is that of the t test, mean ± t·s/√n.
    [Fact]
    public void A_prior_that_weighs_nothing_gives_the_interval_of_the_t_test()
    {
        double[] shifts = [-1.1, -0.8, -1.4, -0.9, -1.3];
        var answer = StageShift.Learn([.. shifts.Select(shift => new ShiftPair(20, 20 + shift))], new ShiftPrior(Scale: 1e-9, Weight: 1e-12));

        var half = StudentT.InvCDF(0, 1, 4, 0.975) * MathNet.Numerics.Statistics.Statistics.StandardDeviation(shifts) / Math.Sqrt(5);
        Assert.Equal(-1.1, answer.Mean, 1e-9);
        Assert.Equal(-1.1 - half, answer.Interval.Lower, 1e-8);
        Assert.Equal(-1.1 + half, answer.Interval.Upper, 1e-8);
    }

    // The same section: a prior of κ₀ pairs at μ₀ and ν₀ degrees at scale σ₀, worked by hand for two pairs.
    [Fact]
    public void A_prior_with_weight_pulls_the_mean_and_widens_what_disagrees()
    {
        var answer = StageShift.Learn([new ShiftPair(0, 1), new ShiftPair(0, 3)], new ShiftPrior(Scale: 2, Mean: 0, Weight: 2, Degrees: 4));

        Assert.Equal(1, answer.Mean, 1e-12);
        Assert.Equal(6, answer.Degrees, 1e-12);
        // (4 + 2 + 2·2/4·2²) / 6
        Assert.Equal(Math.Sqrt(10.0 / 6), answer.Spread, 1e-12);
    }

    [Fact]
    public void Two_pairs_are_not_used_however_well_they_agree() =>
        Assert.False(StageShift.Learn([new(10, 8), new(11, 9.01)], Prior).Used);

    [Fact]
    public void Three_that_agree_are_used_and_three_about_zero_are_not()
    {
        Assert.True(StageShift.Learn([new(10, 8.8), new(11, 9.7), new(12, 10.85)], Prior).Used);
        Assert.False(StageShift.Learn([new(10, 10.2), new(11, 10.9), new(12, 11.95)], Prior).Used);
    }

    [Fact]
    public void Three_equal_shifts_still_leave_a_doubt()
    {
        var answer = StageShift.Learn([new(10, 9), new(11, 10), new(12, 11)], Prior);

        Assert.True(answer.Interval.Upper - answer.Interval.Lower > Prior.Scale);
    }

    [Fact]
    public void A_value_inside_at_tack_is_predicted_outside_after_weld()
    {
        var answer = StageShift.Learn(Pieces(new MersenneTwister(3), 10), Prior);
        var prediction = answer.Predict(99.4, 99, 101);

        Assert.True(prediction.Outside);
        Assert.True(prediction.LeavesLimits > 0.8);
        Assert.False(answer.Predict(101.2, 99, 101).Outside);
        Assert.Equal(0, answer.Predict(99.4, null, null).LeavesLimits);
    }

    [Fact]
    public void What_cannot_be_learned_from_is_refused_by_its_field()
    {
        Assert.Equal("pairs", Assert.Throws<InputError>(() => StageShift.Learn([new(1, 2)], Prior)).Field);
        Assert.Equal("pairs/1/later", Assert.Throws<InputError>(() => StageShift.Learn([new(1, 2), new(1, double.NaN)], Prior)).Field);
        Assert.Equal("pairs/0/atTack", Assert.Throws<InputError>(() => StageShift.Learn([new(double.PositiveInfinity, 2), new(1, 1)], Prior)).Field);
        Assert.Equal("prior/scale", Assert.Throws<InputError>(() => StageShift.Learn([new(1, 2), new(1, 2)], new ShiftPrior(0))).Field);
        Assert.Equal("prior/weight", Assert.Throws<InputError>(() => StageShift.Learn([new(1, 2), new(1, 2)], new ShiftPrior(1, Weight: 0))).Field);
        Assert.Equal("prior/degrees", Assert.Throws<InputError>(() => StageShift.Learn([new(1, 2), new(1, 2)], new ShiftPrior(1, Degrees: -2))).Field);
        var answer = StageShift.Learn([new(1, 2), new(1, 2.1)], Prior);
        Assert.Equal("lower", Assert.Throws<InputError>(() => answer.Predict(1, 3, 2)).Field);
        Assert.Equal("atTack", Assert.Throws<InputError>(() => answer.Predict(double.NaN, 1, 2)).Field);
    }

    [Fact]
    public void The_worked_example_on_the_page_is_what_the_library_answers()
    {
        var lines = File.ReadLines(Path.Combine(Root(), "docs", "calculations", "stage-shift.md")).Where(line => line.Contains(" => ", StringComparison.Ordinal))
            .Select(line => line.Split(" => ")).ToList();
        var numbers = Numbers(lines[0][0]);
        var answer = StageShift.Learn([.. numbers.Chunk(2).Select(pair => new ShiftPair(pair[0], pair[1]))], Prior);
        var next = Numbers(lines[1][0]);
        var prediction = answer.Predict(next[0], next[1], next[2]);

        Assert.Equal(lines[0][1], string.Create(CultureInfo.InvariantCulture,
            $"mean {answer.Mean:0.000} interval {answer.Interval.Lower:0.000} to {answer.Interval.Upper:0.000} spread {answer.Spread:0.000} {(answer.Used ? "used" : "not used")}"));
        Assert.Equal(lines[1][1], string.Create(CultureInfo.InvariantCulture,
            $"value {prediction.Value:0.000} interval {prediction.Interval.Lower:0.000} to {prediction.Interval.Upper:0.000} leaves {prediction.LeavesLimits:0.000}"));
    }

    private static double[] Numbers(string text) => [.. text.Split(' ').Skip(1).Select(word => double.Parse(word, CultureInfo.InvariantCulture))];

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "FabLink.sln")))
            folder = folder.Parent;
        return folder?.FullName ?? throw new InvalidOperationException("The repository's root was not found.");
    }

    private static bool Holds(Bounds interval, double value) => interval.Lower <= value && value <= interval.Upper;

    private static List<ShiftPair> Pieces(MersenneTwister random, int count) =>
        [.. Enumerable.Range(0, count).Select(i => new ShiftPair(500 + i, 500 + i + Normal.Sample(random, Planted, Spread)))];
}
