using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class CertificateCheckTests
{
    private static readonly Joint Sample = Joints.Random(new Random(17), 5, mixedSlots: true);
    private static readonly JointSolution Answer = PlanarBoltUp.Solve(Sample);

    [Fact]
    public void A_true_answer_has_no_objection() => Assert.Null(CertificateCheck.Objection(Sample, Answer));

    [Theory]
    [InlineData(0.01)]
    [InlineData(-1e-6)]
    public void One_altered_weight_is_rejected(double by)
    {
        for (var k = 0; k < Answer.Certificate.Intervals.Count; k++)
            Rejected(WithTerm(k, term => term with { Weight = term.Weight + by }));
    }

    [Fact]
    public void A_weight_moved_from_one_hole_to_another_is_rejected()
    {
        var interval = Answer.Certificate.Intervals[0];
        var terms = interval.Terms.ToArray();
        terms[0] = terms[0] with { Weight = terms[0].Weight + 0.001 };
        terms[1] = terms[1] with { Weight = terms[1].Weight - 0.001 };
        Rejected(WithInterval(0, interval with { Terms = terms }));
    }

    [Fact]
    public void One_turned_direction_is_rejected()
    {
        var (sin, cos) = Math.SinCos(0.001);
        for (var k = 0; k < Answer.Certificate.Intervals.Count; k++)
            Rejected(WithTerm(k, term => term with { X = (cos * term.X) - (sin * term.Y), Y = (sin * term.X) + (cos * term.Y) }));
    }

    [Fact]
    public void Directions_longer_than_one_are_rejected_though_they_cancel()
    {
        var interval = Answer.Certificate.Intervals[0];
        Rejected(WithInterval(0, interval with { Terms = [.. interval.Terms.Select(term => term with { X = 1.01 * term.X, Y = 1.01 * term.Y })] }));
    }

    [Fact]
    public void An_interval_moved_at_either_end_is_rejected()
    {
        for (var k = 0; k < Answer.Certificate.Intervals.Count; k++)
        {
            var interval = Answer.Certificate.Intervals[k];
            Rejected(WithInterval(k, interval with { From = interval.From + 1e-6 }));
            Rejected(WithInterval(k, interval with { To = interval.To - 1e-6 }));
        }
    }

    [Fact]
    public void A_missing_interval_is_rejected()
    {
        var some = PlanarBoltUp.Solve(Sample).Certificate.Intervals;
        Assert.True(some.Count > 2);
        Rejected(Answer with { Certificate = new Certificate([.. some.Where((_, k) => k != 1)]) });
        Rejected(Answer with { Certificate = new Certificate([]) });
    }

    [Fact]
    public void A_bound_that_claims_more_than_it_proves_is_rejected()
    {
        for (var k = 0; k < Answer.Certificate.Intervals.Count; k++)
        {
            var interval = Answer.Certificate.Intervals[k];
            Rejected(WithInterval(k, interval with { MarginAtMost = interval.MarginAtMost - 1e-6 }));
        }
    }

    [Fact]
    public void Directions_held_to_the_wrong_part_are_rejected()
    {
        var joint = Joints.Of(Joints.Round("1", 0, 0, 0, 0), Joints.Round("2", 101, 40, 110, 0));
        var answer = PlanarBoltUp.Solve(joint);
        var interval = answer.Certificate.Intervals[0];
        Assert.Equal("a", interval.HeldTo);
        var intervals = answer.Certificate.Intervals.Select(each => each with { HeldTo = "b" }).ToArray();
        Assert.NotNull(CertificateCheck.Objection(joint, answer with { Certificate = new Certificate(intervals) }));
    }

    [Fact]
    public void An_altered_move_margin_or_bound_is_rejected()
    {
        Rejected(Answer with { Move = Answer.Move with { X = Answer.Move.X + 1e-6 } });
        Rejected(Answer with { Move = Answer.Move with { RotationDegrees = Answer.Move.RotationDegrees + 1e-3 } });
        Rejected(Answer with { Margin = Answer.Margin + 1e-6 });
        Rejected(Answer with { UpperBound = Answer.UpperBound - 1e-7 });
        Rejected(Answer with { UpperBound = double.NaN });
        Rejected(Answer with { Margin = double.NaN });
    }

    private static void Rejected(JointSolution altered) => Assert.NotNull(CertificateCheck.Objection(Sample, altered));

    private static JointSolution WithTerm(int k, Func<ProofTerm, ProofTerm> change)
    {
        var interval = Answer.Certificate.Intervals[k];
        var terms = interval.Terms.ToArray();
        var heaviest = Array.IndexOf(terms, terms.MaxBy(term => term.Weight));
        terms[heaviest] = change(terms[heaviest]);
        return WithInterval(k, interval with { Terms = terms });
    }

    private static JointSolution WithInterval(int k, ProofInterval interval)
    {
        var intervals = Answer.Certificate.Intervals.ToArray();
        intervals[k] = interval;
        return Answer with { Certificate = new Certificate(intervals) };
    }
}
