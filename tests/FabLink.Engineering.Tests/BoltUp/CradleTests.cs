using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class CradleTests
{
    private static readonly BoltUpAnswer Answer = BoltUpCalculation.Answer(Cradle.Request);

    [Fact]
    public void Every_hole_of_the_cradle_conforms() =>
        // ASME Y14.5-2018 clause 10: position = 2·√(dx² + dy²).
        Assert.All(Cradle.Positions, position => Assert.InRange(position, 0, Cradle.PositionTolerance));

    [Fact]
    public void And_yet_the_cradle_does_not_bolt_up()
    {
        Assert.False(Answer.BoltsUp);
        Assert.Equal(-0.350, Answer.Margin, 3);
        Assert.True(Answer.UpperBound < 0);
        Assert.Equal(["7", "8"], Answer.Limiting);
    }

    [Fact]
    public void The_first_way_out_is_to_shift_one_pad_by_a_millimetre()
    {
        var advice = Answer.Advice[0];
        Assert.Equal("move-detail", advice.Kind);
        Assert.Equal(new DetailMoveAnswer("right front pad", "b", "6", 1, 0, 0), advice.Move);
        Assert.Equal("Re-set right front pad on part b, measured at hole 6: shift it 1 mm towards +x.", advice.Text);
        Assert.True(advice.Margin >= Answer.WantedMargin);
    }

    [Fact]
    public void The_other_ways_out_follow_in_the_order_of_the_shop() =>
        Assert.Equal(["move-detail", "move-detail", "open-holes", "slot-holes", "open-all"], Answer.Advice.Select(advice => advice.Kind));

    [Fact]
    public void One_hole_opened_is_enough()
    {
        var advice = Answer.Advice.Single(advice => advice.Kind == "open-holes");
        Assert.Equal("7", Assert.Single(advice.Holes).Name);
        Assert.Equal(15.4, advice.Holes[0].Diameter);
    }
}
