using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class ReachTests
{
    // Common practice: 2° over about 21.5 in is about 0.75 in; plane trigonometry, computed twice.
    [Fact]
    public void Two_degrees_over_an_arm_of_21_5_inches_is_three_quarters_of_an_inch()
    {
        var answer = ReachCalculation.Answer(new ReachRequest { AngleDegrees = 2, Reach = 21.5, Unit = "in" });
        Assert.Equal(0.7508, answer.OffsetTangent, 4);
        Assert.Equal(0.7503, answer.OffsetSine, 4);
        Assert.Equal(0.7505, answer.Chord, 4);
        Assert.Equal(1.5016, answer.PositionEquivalent, 4);
        Assert.Equal("in", answer.Unit);
        Assert.NotEmpty(answer.Sources);
        Assert.NotEmpty(answer.Cautions);
    }

    // Plane trigonometry: 1° per metre is 17.455 mm, one minute per metre 0.2909 mm, 1 mm over 250 mm is 0.23°.
    [Theory]
    [InlineData(1, 1000, 17.455, 3)]
    [InlineData(1.0 / 60, 1000, 0.2909, 4)]
    [InlineData(2, 21.48, 0.75010, 5)]
    public void The_tangent_offset_is_the_published_one(double degrees, double reach, double offset, int digits) =>
        Assert.Equal(offset, ReachCalculation.Answer(new ReachRequest { AngleDegrees = degrees, Reach = reach }).OffsetTangent, digits);

    [Fact]
    public void An_offset_leads_back_to_its_angle_in_all_three_forms()
    {
        var forward = ReachCalculation.Answer(new ReachRequest { AngleDegrees = -1.1, Reach = 640 });
        Assert.Equal(-1.1, ReachCalculation.Answer(new ReachRequest { Offset = forward.OffsetTangent, Reach = 640 }).AngleDegrees, 12);
        Assert.Equal(-1.1, ReachCalculation.Answer(new ReachRequest { Offset = forward.OffsetSine, Reach = 640 }).AngleSineDegrees!.Value, 12);
        Assert.Equal(-1.1, ReachCalculation.Answer(new ReachRequest { Offset = forward.Chord, Reach = 640 }).AngleChordDegrees!.Value, 12);
    }

    [Fact]
    public void One_millimetre_over_250_is_about_a_quarter_of_a_degree() =>
        // Common practice: 1 mm over 250 mm is 0.23°.
        Assert.Equal(0.23, ReachCalculation.Answer(new ReachRequest { Offset = 1, Reach = 250 }).AngleDegrees, 2);

    [Fact]
    public void What_cannot_be_answered_names_its_field()
    {
        Refused("reach", new ReachRequest { AngleDegrees = 1 });
        Refused("reach", new ReachRequest { AngleDegrees = 1, Reach = 0 });
        Refused("angleDegrees", new ReachRequest { Reach = 100 });
        Refused("angleDegrees", new ReachRequest { Reach = 100, AngleDegrees = 90 });
        Refused("angleDegrees", new ReachRequest { Reach = 100, AngleDegrees = double.NaN });
        Refused("offset", new ReachRequest { Reach = 100, AngleDegrees = 1, Offset = 1 });
        Refused("offset", new ReachRequest { Reach = 100, Offset = 101 });
        Refused("unit", new ReachRequest { Reach = 100, AngleDegrees = 1, Unit = "m" });
    }

    private static void Refused(string field, ReachRequest request) =>
        Assert.Equal(field, Assert.Throws<InputError>(() => ReachCalculation.Answer(request)).Field);
}
