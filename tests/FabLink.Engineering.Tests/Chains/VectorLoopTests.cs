using System.Text.Json;
using FabLink.Engineering.Chains;
using FabLink.Engineering.Tests.Geometry;

namespace FabLink.Engineering.Tests.Chains;

public class VectorLoopTests
{
    private static VectorLink Link(string name, double length, double direction, double t = 0, double turn = 0, bool relative = false) =>
        new(name, new(length, -t, t), new(direction, -turn, turn), relative);

    private static VectorLoopAnswer Run(string closing, params VectorLink[] links) =>
        VectorLoopCalculation.Run(new VectorLoopRequest(links, closing, Samples: 0));

    [Fact]
    public void Three_and_four_at_right_angles_close_with_five()
    {
        VectorLink[] links = [Link("a", 3, 0, 0.1), Link("b", 4, 90, 0.1, relative: true)];

        // Pythagoras: length 5, sensitivities 3/5 and 4/5, direction atan(4/3).
        var length = Run("length", links);
        Assert.Equal(5, length.Nominal, 12);
        Assert.Equal(0.6, length.Contributions[0].Sensitivity, 12);
        Assert.Equal(0.8, length.Contributions[1].Sensitivity, 12);
        Assert.Equal(5 - 0.14, length.WorstCase.Lower, 12);
        Assert.Equal(Math.Sqrt((3.1 * 3.1) + (4.1 * 4.1)), length.WorstCaseCorners.Upper, 12);
        Assert.Equal(Math.Atan2(4, 3) * 180 / Math.PI, Run("angle", links).Nominal, 12);
        Assert.Equal("°", Run("angle", links).Unit);
    }

    [Fact]
    public void Two_degrees_over_an_arm_of_21_and_a_half_inches_are_three_quarters_of_an_inch()
    {
        var answer = Run("y", Link("arm", 21.5, 0, turn: 2));

        // Common practice, sine form: 21.5·sin 2° = 0.75034 in.
        Assert.Equal(0.75034, answer.WorstCaseCorners.Upper, 5);
        Assert.Equal(-0.75034, answer.WorstCaseCorners.Lower, 5);
        Assert.Equal(21.5 * Math.PI / 180, answer.Contributions[0].Sensitivity, 9);
    }

    [Fact]
    public void A_link_that_swings_through_its_own_direction_reaches_farthest_between_its_limits()
    {
        var answer = Run("x", Link("arm", 100, 0, turn: 5));

        Assert.Equal(100, answer.WorstCaseInside.Upper, 9);
        Assert.Equal(100 * Math.Cos(5 * Math.PI / 180), answer.WorstCaseCorners.Upper, 9);
        Assert.Contains(answer.Cautions, c => c.Contains("do not lie at corners", StringComparison.Ordinal));
    }

    [Fact]
    public void A_regular_hexagon_of_relative_turns_closes_on_itself()
    {
        VectorLink[] hexagon = [.. Enumerable.Range(0, 6).Select(i => Link($"{i}", 50, i == 0 ? 0 : 60, 0.1, relative: true))];

        Assert.Equal(0, Run("x", hexagon).Nominal, 10);
        Assert.Equal(0, Run("y", hexagon).Nominal, 10);
        Assert.Equal("closing", Assert.Throws<InputError>(() => Run("length", hexagon)).Field);
    }

    [Fact]
    public void Links_all_in_one_direction_are_a_linear_chain()
    {
        var loop = Run("x", Link("a", 10, 0, 0.2), Link("b", 4, 180, 0.1));
        var chain = ChainCalculation.Run(new ChainRequest([new("a", 10, -0.2, 0.2), new("b", 4, -0.1, 0.1, -1)], Samples: 0));

        Assert.Equal(chain.Nominal, loop.Nominal, 12);
        Assert.Equal(chain.WorstCase.Lower, loop.WorstCase.Lower, 12);
        Assert.Equal(chain.WorstCase.Upper, loop.WorstCaseCorners.Upper, 12);
        Assert.Equal(chain.RootSumSquare.Upper, loop.RootSumSquare.Upper, 12);
    }

    private static VectorLink[] Random(int seed, int count)
    {
        var random = new Random(seed);
        return [.. Enumerable.Range(0, count).Select(i => Link(
            $"{i}", 20 + (100 * random.NextDouble()), (200 * random.NextDouble()) - 100, 0.5, 1, random.Next(2) == 0))];
    }

    private static VectorLink Changed(VectorLink link, double length, double direction) => link with
    {
        Length = link.Length! with { Nominal = link.Length.Nominal + length },
        Direction = link.Direction! with { Nominal = link.Direction.Nominal + direction },
    };

    [Theory]
    [InlineData("x")]
    [InlineData("y")]
    [InlineData("length")]
    [InlineData("angle")]
    public void Sensitivities_are_the_slopes_of_the_exact_solution(string closing)
    {
        const double h = 1e-4;
        for (var seed = 1; seed <= 20; seed++)
        {
            var links = Random(seed, 5);
            var answer = Run(closing, links);
            for (var i = 0; i < links.Length; i++)
            {
                double Slope(double length, double direction)
                {
                    VectorLink[] With(double s) => [.. links.Select((l, k) => k == i ? Changed(l, s * length, s * direction) : l)];
                    var difference = Run(closing, With(1)).Nominal - Run(closing, With(-1)).Nominal;
                    return (closing == "angle" ? Math.IEEERemainder(difference, 360) : difference) / (2 * h);
                }
                Assert.Equal(Slope(h, 0), answer.Contributions[2 * i].Sensitivity, 1e-6);
                Assert.Equal(Slope(0, h), answer.Contributions[(2 * i) + 1].Sensitivity, 1e-6);
            }
        }
    }

    [Theory]
    [InlineData("x")]
    [InlineData("y")]
    [InlineData("length")]
    [InlineData("angle")]
    public void No_combination_within_the_limits_lies_outside_the_worst_case(string closing)
    {
        for (var seed = 1; seed <= 30; seed++)
        {
            var links = Random(seed, 3);
            var answer = Run(closing, links);
            var random = new Random(seed);
            double Part(double t) => random.Next(3) == 0 ? t * ((2 * random.Next(2)) - 1) : t * ((2 * random.NextDouble()) - 1);
            for (var k = 0; k < 400; k++)
            {
                var value = Run(closing, [.. links.Select(l => Exact(Changed(l, Part(0.5), Part(1))))]).Nominal;
                if (closing == "angle")
                    value -= 360 * Math.Round((value - answer.Expected) / 360);
                Assert.InRange(value, answer.WorstCaseInside.Lower - 1e-9, answer.WorstCaseInside.Upper + 1e-9);
            }
        }
    }

    private static VectorLink Exact(VectorLink link) => link with { Length = new(link.Length!.Nominal), Direction = new(link.Direction!.Nominal) };

    [Fact]
    public void A_closing_angle_beyond_half_a_turn_does_not_jump()
    {
        var answer = VectorLoopCalculation.Run(new VectorLoopRequest([Link("a", 100, 180, turn: 3)], "angle", Samples: 20_000));

        Assert.Equal(6, answer.WorstCaseCorners.Upper - answer.WorstCaseCorners.Lower, 9);
        Assert.Equal(1, answer.MonteCarlo!.StandardDeviation, 1);
    }

    [Fact]
    public void An_arm_that_swings_uniformly_yields_by_the_arc_sine()
    {
        VectorLink arm = new("arm", new(1), new(0, -30, 30, "uniform"));
        var answer = VectorLoopCalculation.Run(new VectorLoopRequest([arm], "y", new RequiredLimits(null, 0.25), 200_000, 5));

        // P(sin θ ≤ 1/4), θ uniform on ±30°.
        var truth = ((Math.Asin(0.25) * 180 / Math.PI) + 30) / 60;
        Assert.InRange(truth, answer.MonteCarlo!.YieldInterval![0], answer.MonteCarlo.YieldInterval[1]);
    }

    [Fact]
    public void The_simulation_is_the_same_for_any_number_of_threads()
    {
        var request = new VectorLoopRequest(Random(4, 4), "length", Samples: 20_001, Seed: 9);
        var one = VectorLoopCalculation.Run(request, threads: 1).MonteCarlo;

        Assert.Equal(one, VectorLoopCalculation.Run(request, threads: 3).MonteCarlo);
        Assert.Equal(one, VectorLoopCalculation.Run(request).MonteCarlo);
    }

    [Fact]
    public void Small_tolerances_scatter_as_the_first_order_says()
    {
        var links = Random(8, 4);
        var answer = VectorLoopCalculation.Run(new VectorLoopRequest(links, "length", Samples: 100_000));
        var half = (answer.RootSumSquare.Upper - answer.RootSumSquare.Lower) / 2;

        // Tolerances are three standard deviations.
        Assert.Equal(half / 3, answer.MonteCarlo!.StandardDeviation, 0.02 * half);
    }

    [Fact]
    public void What_is_left_for_the_last_direction_makes_the_loop_close_and_no_more()
    {
        VectorLink[] links = [Link("base", 200, 0, 0.3), Link("arm", 640, 60, 0.5, 0.2), Link("pad", 80, 90, 0, 4, relative: true)];
        RequiredLimits required = new(590, 596);
        VectorLoopAnswer With(double lower, double upper) => VectorLoopCalculation.Run(new VectorLoopRequest(
            [links[0], links[1], links[2] with { Direction = new(90, lower - 90, upper - 90) }], "y", required, 0));

        var room = With(86, 94).Room.Single(r => r.Name == "pad direction").WorstCase!;
        Assert.True(With(room.Lower!.Value + 1e-6, room.Upper!.Value - 1e-6).WorstCaseCloses);
        Assert.False(With(room.Lower!.Value - 0.001, room.Upper!.Value).WorstCaseCloses);
        Assert.False(With(room.Lower!.Value, room.Upper!.Value + 0.001).WorstCaseCloses);
    }

    [Fact]
    public void Measured_links_take_the_place_of_drawn_ones()
    {
        var drawn = Link("arm", 640, 0, 0.5, 0.5);
        var measured = drawn with { Direction = drawn.Direction! with { Measured = 1.1, StandardUncertainty = 0.05 } };
        var answer = Run("y", measured);

        Assert.Equal("as built so far", answer.State);
        Assert.Equal(0, answer.Nominal, 12);
        // About 12 mm at 640 mm: 640·sin 1.1° = 12.286.
        Assert.Equal(12.286, answer.Expected, 3);
        Assert.Contains(answer.Cautions, c => c.Contains("outside its drawing limits", StringComparison.Ordinal));
    }

    [Fact]
    public void The_examples_in_the_documentation_are_true() => Assert.Equal(4, DocumentedExamples.Check("chains.md", (name, question) => name switch
    {
        "chain" => ChainCalculation.Run(JsonSerializer.Deserialize<ChainRequest>(question, JsonSerializerOptions.Web)!),
        _ => VectorLoopCalculation.Run(JsonSerializer.Deserialize<VectorLoopRequest>(question, JsonSerializerOptions.Web)!),
    }));

    [Theory]
    [InlineData("""{"links":[]}""", "links")]
    [InlineData("""{"links":[{"name":"a","length":{"nominal":1}}]}""", "links/0/direction")]
    [InlineData("""{"links":[{"name":"a","direction":{"nominal":1}}]}""", "links/0/length")]
    [InlineData("""{"links":[{"name":"a","length":{},"direction":{"nominal":0}}]}""", "links/0/length/nominal")]
    [InlineData("""{"links":[{"name":"a","length":{"nominal":0.1,"lower":-0.2,"upper":0},"direction":{"nominal":0}}]}""", "links/0/length/nominal")]
    [InlineData("""{"links":[{"name":"a","length":{"nominal":1},"direction":{"nominal":0,"lower":1,"upper":-1}}]}""", "links/0/direction/lower")]
    [InlineData("""{"links":[{"name":"a","length":{"nominal":1},"direction":{"nominal":0}}],"closing":"area"}""", "closing")]
    [InlineData("""{"links":[{"name":"a","length":{"nominal":1},"direction":{"nominal":0}},{"name":"a","length":{"nominal":1},"direction":{"nominal":0}}]}""", "links/1/name")]
    public void A_faulty_loop_is_refused_with_the_link_and_the_field(string body, string field)
    {
        var request = JsonSerializer.Deserialize<VectorLoopRequest>(body, JsonSerializerOptions.Web)!;
        Assert.Equal(field, Assert.Throws<InputError>(() => VectorLoopCalculation.Run(request)).Field);
    }
}
