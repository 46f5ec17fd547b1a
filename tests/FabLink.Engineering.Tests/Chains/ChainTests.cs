using System.Text.Json;
using FabLink.Engineering.Chains;

namespace FabLink.Engineering.Tests.Chains;

public class ChainTests
{
    private static readonly ChainLink[] Housing =
    [
        new("housing", 4.020, -0.005, 0.005),
        new("part 1", 2.000, -0.005, 0.005, -1),
        new("part 2", 1.500, -0.003, 0.003, -1),
        new("part 3", 0.500, -0.002, 0.002, -1),
    ];

    private static ChainAnswer Run(params ChainLink[] links) => ChainCalculation.Run(new ChainRequest(links, Samples: 0));

    private static double Half(Bounds b) => (b.Upper - b.Lower) / 2;

    [Fact]
    public void Three_parts_in_a_housing_leave_the_published_gap()
    {
        var answer = Run(Housing);

        // Common tutorial example of a tolerance chain, re-computed: gap 0.020, worst case ±0.015, root sum square ±0.00794.
        Assert.Equal(0.020, answer.Nominal, 12);
        Assert.Equal(0.005, answer.WorstCase.Lower, 12);
        Assert.Equal(0.035, answer.WorstCase.Upper, 12);
        Assert.Equal(0.00794, Half(answer.RootSumSquare), 5);
        // The same, inflated by 1.5 (A. Bender, SAE paper 680490, 1968).
        Assert.Equal(0.01191, Half(answer.InflatedRootSumSquare), 5);
        // The three parts alone: ±0.00616.
        Assert.Equal(0.00616, Half(Run(Housing[1..]).RootSumSquare), 5);
    }

    [Fact]
    public void Ten_equal_links_add_up_to_ten_tolerances_or_to_their_root()
    {
        var answer = Run([.. Enumerable.Range(1, 10).Select(i => new ChainLink($"{i}", 5, -0.1, 0.1))]);

        // Common tutorial example, re-computed: ±1.0 and ±0.316.
        Assert.Equal(1.0, Half(answer.WorstCase), 12);
        Assert.Equal(0.316, Half(answer.RootSumSquare), 3);
        Assert.All(answer.Contributions, c => Assert.Equal(0.1, c.VarianceShare, 12));
    }

    [Fact]
    public void Three_unlike_links_have_the_published_root_sum_square()
    {
        var answer = Run(new("a", 10, -0.2, 0.2), new("b", 4, -0.1, 0.1), new("c", 3, -0.15, 0.15));

        // Common tutorial example, re-computed: worst case ±0.45, root sum square ±0.269.
        Assert.Equal(0.45, Half(answer.WorstCase), 12);
        Assert.Equal(0.269, Half(answer.RootSumSquare), 3);
    }

    [Fact]
    public void Sensitivities_enter_as_in_the_propagation_of_error()
    {
        // NIST/SEMATECH e-Handbook 2.5.5, area = L·W: sensitivities are the other side. L 2.0 ± 0.05, W 1.0 ± 0.03: 0.0781 (computed).
        var answer = Run(new("L", 2, -0.05, 0.05, Sensitivity: 1), new("W", 1, -0.03, 0.03, Sensitivity: 2));

        Assert.Equal(0.0781, Half(answer.RootSumSquare), 4);
    }

    [Fact]
    public void Unequal_limits_move_the_root_sum_square_to_their_middle_and_not_the_nominal()
    {
        var answer = Run(new ChainLink("a", 10, 0, 0.2), new ChainLink("b", 4, -0.1, 0, -1));

        Assert.Equal(6, answer.Nominal, 12);
        Assert.Equal(6.15, answer.Expected, 12);
        Assert.Equal(6.0, answer.WorstCase.Lower, 12);
        Assert.Equal(6.3, answer.WorstCase.Upper, 12);
        Assert.Equal(6.15, (answer.RootSumSquare.Lower + answer.RootSumSquare.Upper) / 2, 12);
    }

    [Fact]
    public void A_chain_goes_from_as_drawn_to_as_built_while_its_links_are_measured()
    {
        ChainLink drawn = new("a", 10, -0.2, 0.2);
        ChainLink b = new("b", 4, -0.1, 0.1, -1);
        var measured = drawn with { Measured = 10.15, StandardUncertainty = 0.01 };

        Assert.Equal("as drawn", Run(drawn, b).State);
        var soFar = Run(measured, b);
        Assert.Equal("as built so far", soFar.State);
        Assert.Equal(6, soFar.Nominal, 12);
        Assert.Equal(6.15, soFar.Expected, 12);
        Assert.Equal(0.1 + (2 * 0.01), Half(soFar.WorstCase), 12);
        Assert.Equal("as built", Run(measured, b with { Measured = 4.01, StandardUncertainty = 0.01 }).State);
    }

    [Fact]
    public void A_measured_link_outside_its_drawing_limits_is_pointed_out() =>
        Assert.Contains(Run(new ChainLink("a", 10, -0.1, 0.1, Measured: 10.2)).Cautions, c => c.Contains("outside", StringComparison.Ordinal));

    [Fact]
    public void A_chain_that_uses_its_limits_to_the_last_micrometre_closes()
    {
        ChainLink[] links = [.. Enumerable.Range(1, 3).Select(i => new ChainLink($"{i}", 0.1, -0.1, 0.1))];

        // 3 × 0.1 is not 0.3 in binary: rounding must not decide.
        Assert.True(ChainCalculation.Run(new ChainRequest(links, new RequiredLimits(0, 0.6), 0)).WorstCaseCloses);
        Assert.False(ChainCalculation.Run(new ChainRequest(links, new RequiredLimits(0, 0.5999), 0)).WorstCaseCloses);
    }

    [Fact]
    public void What_is_left_for_the_last_link_makes_the_chain_close_and_no_more()
    {
        ChainLink[] links =
        [
            new("rail", 900, -0.5, 0.5, Measured: 900.2, StandardUncertainty: 0.05),
            new("cradle", 500, -0.3, 0.3, -1),
            new("tube", 398, -1, 1, -1),
        ];
        RequiredLimits required = new(0.5, 3.0);
        var room = ChainCalculation.Run(new ChainRequest(links, required, 0)).Room.Single(r => r.Name == "tube").WorstCase!;

        ChainAnswer With(double lower, double upper) => ChainCalculation.Run(
            new ChainRequest([links[0], links[1], links[2] with { Lower = lower - 398, Upper = upper - 398 }], required, 0));
        Assert.True(With(room.Lower!.Value, room.Upper!.Value).WorstCaseCloses);
        Assert.False(With(room.Lower!.Value - 0.001, room.Upper!.Value).WorstCaseCloses);
        Assert.False(With(room.Lower!.Value, room.Upper!.Value + 0.001).WorstCaseCloses);
    }

    [Fact]
    public void The_root_sum_square_room_fills_the_required_width_exactly()
    {
        ChainLink[] links = [new("a", 10, -0.3, 0.3), new("b", 5, -0.4, 0.4, -2), new("c", 1, -9, 9, 0.5)];
        RequiredLimits required = new(-1, 1);
        var room = ChainCalculation.Run(new ChainRequest(links, required, 0)).Room[2].RootSumSquare!;

        var filled = Run(links[0], links[1], links[2] with { Nominal = room.Lower, Lower = 0, Upper = room.Upper - room.Lower });
        Assert.Equal(-1, filled.RootSumSquare.Lower, 9);
        Assert.Equal(1, filled.RootSumSquare.Upper, 9);
    }

    [Fact]
    public void A_chain_whose_other_links_use_everything_has_no_room_and_says_how_much_is_missing()
    {
        ChainLink[] links = [new("a", 10, -0.3, 0.3), new("b", 10, -0.1, 0.1, -1)];
        var room = ChainCalculation.Run(new ChainRequest(links, new RequiredLimits(-0.2, 0.2), 0)).Room[1];

        Assert.Null(room.WorstCase);
        Assert.Equal(0.2, room.WorstCaseShortfall, 12);
        Assert.Null(room.RootSumSquare);
    }

    [Fact]
    public void A_requirement_with_one_side_leaves_the_other_side_of_the_link_open()
    {
        var room = ChainCalculation.Run(new ChainRequest([new("a", 10, -0.3, 0.3), new("b", 9, 0, 0, -1)], new RequiredLimits(0.5, null), 0)).Room[1];

        Assert.Null(room.WorstCase!.Lower);
        Assert.Equal(9.2, room.WorstCase.Upper!.Value, 12);
    }

    [Fact]
    public void The_documented_request_gives_the_documented_answer()
    {
        const string body = """
            {"links":[{"name":"A","nominal":10,"lower":-0.1,"upper":0.1,"sensitivity":1,"distribution":"normal","sigma":3}],
             "required":{"lower":9.8,"upper":10.2},"samples":100000,"seed":1}
            """;
        var request = JsonSerializer.Deserialize<ChainRequest>(body, JsonSerializerOptions.Web)!;
        var answer = JsonSerializer.SerializeToElement(ChainCalculation.Run(request), JsonSerializerOptions.Web);

        Assert.Equal(10, answer.GetProperty("nominal").GetDouble(), 12);
        Assert.Equal(9.9, answer.GetProperty("worstCase").GetProperty("lower").GetDouble(), 12);
        Assert.Equal(10.1, answer.GetProperty("rootSumSquare").GetProperty("upper").GetDouble(), 12);
        var simulated = answer.GetProperty("monteCarlo");
        Assert.Equal(1, simulated.GetProperty("yield").GetDouble());
        Assert.Equal(2, simulated.GetProperty("yieldInterval").GetArrayLength());
        Assert.Equal(0.0333, simulated.GetProperty("standardDeviation").GetDouble(), 3);
        Assert.Equal(1, simulated.GetProperty("seed").GetInt64());
        Assert.NotEmpty(answer.GetProperty("sources").EnumerateArray());
        Assert.NotEmpty(answer.GetProperty("cautions").EnumerateArray());
    }

    public static TheoryData<string, string, string> Refused => new()
    {
        { """{"links":[]}""", "links", "at least one" },
        { """{"links":null}""", "links", "at least one" },
        { """{"links":[{"name":"a","nominal":1},{"name":"a","nominal":2}]}""", "links/1/name", "both named" },
        { """{"links":[{"name":" ","nominal":1}]}""", "links/0/name", "no name" },
        { """{"links":[null]}""", "links/0/name", "no name" },
        { """{"links":[{"name":"a"}]}""", "links/0/nominal", "no nominal" },
        { """{"links":[{"name":"a","nominal":1,"lower":0.1,"upper":-0.1}]}""", "links/0/lower", "reversed" },
        { """{"links":[{"name":"a","nominal":1,"lower":-0.1}]}""", "links/0/upper", "only one" },
        { """{"links":[{"name":"a","nominal":1,"sigma":0}]}""", "links/0/sigma", "greater than zero" },
        { """{"links":[{"name":"a","nominal":1,"sensitivity":0}]}""", "links/0/sensitivity", "no link" },
        { """{"links":[{"name":"a","nominal":1,"distribution":"lognormal"}]}""", "links/0/distribution", "triangular" },
        { """{"links":[{"name":"a","nominal":1,"standardUncertainty":0.1}]}""", "links/0/standardUncertainty", "no measured" },
        { """{"links":[{"name":"a","nominal":1,"measured":1,"standardUncertainty":-1}]}""", "links/0/standardUncertainty", "negative" },
        { """{"links":[{"name":"a","nominal":1}],"required":{"lower":2,"upper":1}}""", "required/lower", "reversed" },
        { """{"links":[{"name":"a","nominal":1}],"required":{}}""", "required", "lower limit" },
        { """{"links":[{"name":"a","nominal":1}],"samples":-1}""", "samples", "0 to" },
        { """{"links":[{"name":"a","nominal":1}],"inflation":0.5}""", "inflation", "1 or more" },
    };

    [Theory]
    [MemberData(nameof(Refused))]
    public void A_faulty_chain_is_refused_with_the_link_and_the_field(string body, string field, string says)
    {
        var request = JsonSerializer.Deserialize<ChainRequest>(body, JsonSerializerOptions.Web)!;
        var error = Assert.Throws<InputError>(() => ChainCalculation.Run(request));

        Assert.Equal(field, error.Field);
        Assert.Contains(says, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Not_a_number_and_infinity_are_refused()
    {
        Assert.Equal("links/0/nominal", Assert.Throws<InputError>(() => Run(new ChainLink("a", double.NaN))).Field);
        Assert.Equal("links/1/upper", Assert.Throws<InputError>(() => Run(new("a", 1), new("b", 1, -1, double.PositiveInfinity))).Field);
        Assert.Equal("links/0/measured", Assert.Throws<InputError>(() => Run(new ChainLink("a", 1, Measured: double.NaN))).Field);
    }
}
