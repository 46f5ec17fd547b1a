using FabLink.Engineering.Chains;

namespace FabLink.Engineering.Tests.Chains;

/// <summary>Loops that close on themselves with two unknowns, against closed forms.</summary>
public class ClosedLoopTests
{
    private static VectorLoopAnswer Crank(int samples = 0, double crank = 0.1, double rod = 0.2, double turn = 0) => VectorLoopCalculation.Run(new VectorLoopRequest(
        [
            new("crank", new(50, -crank, crank), new(30, -turn, turn)),
            new("rod", new(200, -rod, rod), new(-10)),
            new("slide", new(240), new(180)),
        ],
        Samples: samples,
        Unknowns: [new("slide", "length"), new("rod", "direction")]));

    // Slider and crank (common practice): x = r cos θ + √(l² − r² sin² θ).
    private static double Slide(double r, double l, double degrees)
    {
        var (sin, cos) = Math.SinCos(degrees * Math.PI / 180);
        return (r * cos) + Math.Sqrt((l * l) - (r * r * sin * sin));
    }

    [Fact]
    public void A_crank_and_its_rod_say_where_the_slide_is()
    {
        var answer = Crank();

        Assert.Equal(Slide(50, 200, 30), answer.Nominal, 1e-9);
        Assert.Equal(-Math.Asin(50 * 0.5 / 200) * 180 / Math.PI, answer.Unknowns[1].Nominal, 1e-9);
        Assert.Equal(("slide length", "mm", "rod direction", "°"), (answer.Closing, answer.Unit, answer.Unknowns[1].Name, answer.Unknowns[1].Unit));
        Assert.Equal(0, answer.Joints[^1][0], 1e-9);
        Assert.Equal(0, answer.Joints[^1][1], 1e-9);
    }

    [Theory]
    [InlineData("crank length", 1e-4, 0, 0)]
    [InlineData("rod length", 0, 1e-4, 0)]
    [InlineData("crank direction", 0, 0, 1e-4)]
    public void Sensitivities_are_the_derivatives_of_the_closed_form(string name, double r, double l, double turn)
    {
        var step = r + l + turn;
        var derivative = (Slide(50 + r, 200 + l, 30 + turn) - Slide(50 - r, 200 - l, 30 - turn)) / (2 * step);

        Assert.Equal(derivative, Crank(turn: 0.5).Unknowns[0].Sensitivities.Single(one => one.Name == name).Sensitivity, 1e-8);
    }

    [Fact]
    public void Corners_are_solved_exactly()
    {
        var answer = Crank(crank: 2, rod: 5, turn: 3);
        var all = (from r in new[] { 48.0, 52 } from l in new[] { 195.0, 205 } from t in new[] { 27.0, 33 } select Slide(r, l, t)).ToList();

        Assert.Equal(all.Min(), answer.WorstCaseCorners.Lower, 1e-9);
        Assert.Equal(all.Max(), answer.WorstCaseCorners.Upper, 1e-9);
    }

    [Fact]
    public void The_simulation_solves_every_sample_and_agrees_with_the_first_order_for_small_tolerances()
    {
        var answer = Crank(samples: 40_000);
        var spread = (answer.RootSumSquare.Upper - answer.Expected) / 3;

        Assert.Equal(answer.Expected, answer.MonteCarlo!.Mean, 5 * spread / 200);
        Assert.Equal(spread, answer.MonteCarlo.StandardDeviation, 0.02 * spread);
        Assert.Equal(answer.MonteCarlo, Crank(samples: 40_000).MonteCarlo);
    }

    // Law of cosines: three sides fix the angles of a triangle.
    [Fact]
    public void Three_sides_fix_the_directions_of_a_triangle()
    {
        var answer = VectorLoopCalculation.Run(new VectorLoopRequest(
            [new("a", new(400), new(0)), new("b", new(300, -0.5, 0.5), new(80)), new("c", new(500, -0.5, 0.5), new(200))],
            Samples: 0,
            Unknowns: [new("b", "direction"), new("c", "direction")]));
        static double Direction(double b, double c) => 180 - (Math.Acos(((400 * 400) + (b * b) - (c * c)) / (2 * 400 * b)) * 180 / Math.PI);

        Assert.Equal(90, answer.Nominal, 1e-9);
        Assert.Equal(180 + (Math.Atan2(3, 4) * 180 / Math.PI), answer.Unknowns[1].Nominal, 1e-9);
        Assert.Equal(Direction(300.5, 499.5), answer.WorstCaseCorners.Upper, 1e-8);
        Assert.Equal(Direction(299.5, 500.5), answer.WorstCaseCorners.Lower, 1e-8);
    }

    [Fact]
    public void Two_unknown_lengths_at_right_angles_are_a_box()
    {
        var answer = VectorLoopCalculation.Run(new VectorLoopRequest(
            [new("floor", new(300, -1, 1), new(0)), new("wall", new(190), new(90)), new("top", new(310), new(180)), new("door", new(200, -0.5, 0.5), new(270))],
            Samples: 0,
            Unknowns: [new("top", "length"), new("wall", "length")],
            Required: new RequiredLimits(299, 301)));

        Assert.Equal(300, answer.Expected, 1e-9);
        Assert.Equal(200, answer.Unknowns[1].Expected, 1e-9);
        Assert.Equal(1, Assert.Single(answer.Unknowns[0].Sensitivities, one => one.Name == "floor length").Sensitivity, 1e-12);
        Assert.Equal(0, Assert.Single(answer.Unknowns[0].Sensitivities, one => one.Name == "door length").Sensitivity, 1e-12);
        Assert.True(answer.WorstCaseCloses);
    }

    [Theory]
    [InlineData("slide", "length", "slide", "length", "unknowns/1")]
    [InlineData("slide", "length", "piston", "length", "unknowns/1/link")]
    [InlineData("slide", "width", "rod", "direction", "unknowns/0/field")]
    [InlineData("slide", "length", "crank", "length", "unknowns/1")]
    [InlineData("slide", "length", "slide", "direction", null)]
    public void Unknowns_that_cannot_be_meant_name_their_field(string link, string field, string other, string otherField, string? error)
    {
        VectorLoopRequest request = new(
            [new("crank", new(50, -0.1, 0.1), new(30)), new("rod", new(200), new(-10)), new("slide", new(240), new(180))],
            Samples: 0,
            Unknowns: [new(link, field), new(other, otherField)]);

        if (error is null)
            Assert.Equal(2, VectorLoopCalculation.Run(request).Unknowns.Count);
        else
            Assert.Equal(error, Assert.Throws<InputError>(() => VectorLoopCalculation.Run(request)).Field);
    }

    [Fact]
    public void Unknowns_that_cannot_close_the_loop_are_refused()
    {
        VectorLink[] short_ = [new("crank", new(50), new(30)), new("rod", new(20), new(-10)), new("slide", new(240), new(180))];
        VectorLink[] parallel = [new("a", new(50), new(0)), new("b", new(20), new(0)), new("c", new(70), new(180))];

        Assert.Equal("unknowns", Assert.Throws<InputError>(
            () => VectorLoopCalculation.Run(new VectorLoopRequest(short_, Samples: 0, Unknowns: [new("slide", "length"), new("rod", "direction")]))).Field);
        Assert.Equal("unknowns", Assert.Throws<InputError>(
            () => VectorLoopCalculation.Run(new VectorLoopRequest(parallel, Samples: 0, Unknowns: [new("a", "length"), new("b", "length")]))).Field);
        Assert.Equal("unknowns", Assert.Throws<InputError>(
            () => VectorLoopCalculation.Run(new VectorLoopRequest(short_, Samples: 0, Unknowns: [new("slide", "length")]))).Field);
        Assert.Equal("closing", Assert.Throws<InputError>(
            () => VectorLoopCalculation.Run(new VectorLoopRequest(short_, "x", Samples: 0, Unknowns: [new("slide", "length"), new("rod", "direction")]))).Field);
    }
}
