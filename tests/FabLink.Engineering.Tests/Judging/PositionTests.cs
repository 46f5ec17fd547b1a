using CsCheck;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;

namespace FabLink.Engineering.Tests.Judging;

public class PositionTests
{
    // ASME Y14.5-2018 clause 10: diametral value 2·√(dx² + dy²).
    [Theory]
    [InlineData(0.1, 0.1, 0.2828)]
    [InlineData(0.04, 0.03, 0.10)]
    [InlineData(0.015, -0.027, 0.0618)]
    [InlineData(0.051, 0, 0.102)]
    public void A_position_is_twice_the_distance(double dx, double dy, double expected) =>
        Assert.Equal(expected, (double)Position.Judge(Off((decimal)dx, (decimal)dy, 0.3m)).Position, 5e-5);

    // ASME Y14.5-2018 clause 10: a 3-4-5 triangle lies exactly on its zone.
    [Fact]
    public void A_hole_exactly_on_the_edge_of_its_zone_conforms()
    {
        Assert.Equal(Verdict.Conforms, Position.Judge(Off(0.03m, 0.04m, 0.1m)).Verdict);
        Assert.Equal(Verdict.DoesNotConform, Position.Judge(Off(0.03m, 0.0400000000001m, 0.1m)).Verdict);
    }

    [Fact]
    public void Every_pythagorean_hole_on_its_limit_conforms_and_the_next_step_does_not() =>
        Gen.Select(Gen.Int[2, 2000], Gen.Int[1, 1999], Gen.Int[-1_000_000, 1_000_000]).Where((m, n, _) => n < m).Sample((m, n, at) =>
        {
            // m² − n², 2mn, m² + n² is a right triangle in whole units.
            var (a, b, c) = (m * m - n * n, 2 * m * n, m * m + n * n);
            var where = at / 1000m;
            decimal[] nominal = [where, -where];
            decimal[] measured = [where + a / 100_000m, -where + b / 100_000m];
            var on = Position.Judge(new PositionQuestion(nominal, measured, 2 * c / 100_000m)).Verdict;
            var over = Position.Judge(new PositionQuestion(nominal, measured, 2 * c / 100_000m - 0.0000000001m)).Verdict;
            return on == Verdict.Conforms && over == Verdict.DoesNotConform;
        },
        iter: Fuzz.Times(100_000));

    // ASME Y14.5-2018: hole 10.0 at maximum material, actual 10.2, tolerance 0.3: bonus 0.2, allowed 0.5.
    [Fact]
    public void Departure_from_maximum_material_is_added() =>
        Assert.Equal((0.2m, 0.5m), Allowed(new FeatureOfSize(10.0m, 10.5m, true), MaterialCondition.Maximum, 10.2m, 0.3m));

    // ASME Y14.5-2018: Ø10 +0.05/0, tolerance Ø0.1 Ⓜ, actual 10.04, off by 0.04 and 0.03: bonus 0.04, allowed 0.14, actual 0.10.
    [Fact]
    public void A_hole_at_maximum_material_uses_its_bonus()
    {
        var answer = Position.Judge(Off(0.04m, 0.03m, 0.1m) with
        {
            Modifier = MaterialCondition.Maximum,
            Size = new FeatureOfSize(10m, 10.05m, true),
            MeasuredSize = 10.04m,
        });

        Assert.Equal((0.10m, 0.04m, 0.14m, Verdict.Conforms), (answer.Position, answer.Bonus, answer.Allowed, answer.Verdict));
        Assert.Equal(9.9m, answer.VirtualCondition);
    }

    // ASME Y14.5-2018, inch: maximum material .499, mating envelope .500 where a local size reads .502: bonus .001, allowed .016, not .018.
    [Fact]
    public void The_bonus_comes_from_the_mating_envelope() =>
        Assert.Equal((0.001m, 0.016m), Allowed(new FeatureOfSize(0.499m, 0.505m, true), MaterialCondition.Maximum, 0.500m, 0.015m));

    // ISO 2692:2021: pins and least material the other way round, clamped to the size tolerance.
    [Theory]
    [InlineData(true, MaterialCondition.Maximum, 10.7, 0.5)]
    [InlineData(true, MaterialCondition.Maximum, 9.9, 0)]
    [InlineData(false, MaterialCondition.Maximum, 10.2, 0.3)]
    [InlineData(true, MaterialCondition.Least, 10.2, 0.3)]
    [InlineData(false, MaterialCondition.Least, 10.2, 0.2)]
    [InlineData(true, MaterialCondition.None, 10.2, 0)]
    public void The_bonus_is_clamped_and_knows_holes_from_pins(bool isHole, MaterialCondition modifier, double measured, double bonus) =>
        Assert.Equal((decimal)bonus, new FeatureOfSize(10m, 10.5m, isHole).Bonus(modifier, (decimal)measured));

    [Fact]
    public void A_size_outside_its_limits_is_told_although_the_position_conforms()
    {
        var answer = Position.Judge(Off(0, 0, 0.1m) with { Modifier = MaterialCondition.Maximum, Size = new FeatureOfSize(10m, 10.5m, true), MeasuredSize = 10.6m });

        Assert.Equal(Verdict.Conforms, answer.Verdict);
        Assert.Contains(answer.Cautions, c => c.Contains("outside 10 to 10.5", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(0.04, Verdict.Conforms)]
    [InlineData(0.05, Verdict.NotProven)]
    [InlineData(0.07, Verdict.DoesNotConform)]
    public void A_position_can_be_guarded(double dx, Verdict expected) =>
        Assert.Equal(expected, Position.Judge(Off((decimal)dx, 0, 0.1m) with { Rule = JudgingRule.Guarded, ExpandedUncertainty = 0.02m }).Verdict);

    [Fact]
    public void Three_coordinates_make_a_sphere() =>
        Assert.Equal(0.14m, Position.Judge(new PositionQuestion([0, 0, 0], [0.02m, 0.03m, 0.06m], 0.2m)).Position);

    // ASME Y14.5-2018 clause 10.4: an axis leaning 0.1 in 20 is off by 0.05 more at 10 above the face.
    [Fact]
    public void A_projected_zone_counts_where_the_fastener_ends()
    {
        Assert.Equal(0.3m, Position.Projected([0, 0], [0, 0, -20m], [0.1m, 0, 0], 0, 10m));
        Assert.Equal(0.2m, Position.Projected([0, 0], [0, 0, -20m], [0.1m, 0, 0], 0, 0));
        Assert.Throws<InputError>(() => Position.Projected([0, 0], [0, 0, 1], [1, 0, 1], 0, 10));
    }

    [Fact]
    public void What_cannot_be_judged_names_its_field()
    {
        Assert.Equal("measured", Refused(new PositionQuestion([0, 0], [0], 1)));
        Assert.Equal("nominal", Refused(new PositionQuestion([0], [0], 1)));
        Assert.Equal("tolerance", Refused(new PositionQuestion([0, 0], [0, 0], -1)));
        Assert.Equal("size", Refused(new PositionQuestion([0, 0], [0, 0], 1) { Modifier = MaterialCondition.Maximum }));
        Assert.Equal("measured/1", Refused(new PositionQuestion([0, 0], [0, 10_000_000_000], 1)));
        Assert.Throws<InputError>(() => new FeatureOfSize(10, 9, true));
    }

    // ISO 1101:2017: highest less lowest of the readings.
    [Theory]
    [InlineData(0.12, Verdict.Conforms)]
    [InlineData(0.11, Verdict.DoesNotConform)]
    public void Form_from_readings_is_highest_less_lowest(double tolerance, Verdict expected)
    {
        var answer = GeometricTolerances.FromReadings(GeometricKind.Flatness, [0.01m, -0.05m, 0.07m], (decimal)tolerance);

        Assert.Equal(0.12m, answer.Value);
        Assert.Equal(expected, answer.Judgement.Verdict);
    }

    // tan 1° = 0.017455: 17.455 mm per metre.
    [Fact]
    public void Orientation_from_an_angle_grows_with_the_length()
    {
        var answer = GeometricTolerances.FromAngle(GeometricKind.Perpendicularity, Angle.FromDegrees(-1), 1000, 18);

        Assert.Equal(17.455m, decimal.Round(answer.Value, 3));
        Assert.Equal(Verdict.Conforms, answer.Judgement.Verdict);
    }

    [Fact]
    public void Circularity_across_diameters_is_half_their_difference() =>
        Assert.Equal(0.02m, GeometricTolerances.CircularityFromDiameters([50.00m, 50.04m, 50.01m], 0.05m).Value);

    // ASME Y14.5-2018 clause 11: equally disposed, the value is twice the worst deviation; unequally, 0.5 with 0.2 outside allows −0.3 to +0.2.
    [Fact]
    public void A_profile_is_judged_on_both_sides_of_nominal()
    {
        Assert.Equal(0.4m, GeometricTolerances.Profile([0.1m, -0.2m], 0.5m).Value);
        Assert.Equal(Verdict.Conforms, GeometricTolerances.Profile([0.2m, -0.3m], 0.5m, 0.2m).Judgement.Verdict);
        Assert.Equal(Verdict.DoesNotConform, GeometricTolerances.Profile([0.21m, 0m], 0.5m, 0.2m).Judgement.Verdict);
        Assert.Equal(Verdict.DoesNotConform, GeometricTolerances.Profile([0.3m, 0m], 0.5m).Judgement.Verdict);
    }

    [Fact]
    public void Bench_readings_that_cannot_be_meant_are_refused()
    {
        Assert.Throws<InputError>(() => GeometricTolerances.FromReadings(GeometricKind.Flatness, [0.1m], 1));
        Assert.Throws<InputError>(() => GeometricTolerances.FromReadings(GeometricKind.CircularRunOut, [0, 0.1m], 1, bonus: 0.1m));
        Assert.Throws<InputError>(() => GeometricTolerances.FromReadings(GeometricKind.Profile, [0, 0.1m], 1));
        Assert.Throws<InputError>(() => GeometricTolerances.FromAngle(GeometricKind.Flatness, Angle.FromDegrees(1), 100, 1));
        Assert.Throws<InputError>(() => GeometricTolerances.FromAngle(GeometricKind.Angularity, Angle.FromDegrees(50), 100, 1));
        Assert.Throws<InputError>(() => GeometricTolerances.Profile([], 1));
    }

    private static PositionQuestion Off(decimal dx, decimal dy, decimal tolerance) => new([90, 50], [90 + dx, 50 + dy], tolerance);

    private static (decimal Bonus, decimal Allowed) Allowed(FeatureOfSize size, MaterialCondition modifier, decimal measured, decimal tolerance)
    {
        var answer = Position.Judge(Off(0, 0, tolerance) with { Modifier = modifier, Size = size, MeasuredSize = measured });
        return (answer.Bonus, answer.Allowed);
    }

    private static string Refused(PositionQuestion question) => Assert.Throws<InputError>(() => Position.Judge(question)).Field;
}
