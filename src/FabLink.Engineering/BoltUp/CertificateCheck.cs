using System.Numerics;

namespace FabLink.Engineering.BoltUp;

/// <summary>
/// Checks a bolt-up answer from the holes as they were given, with nothing borrowed from the routine that found it.
/// Points are complex numbers. The proof of one interval is a function of the angle that is the smallest of a few plain
/// sinusoids (one for each choice of signs of the slots that turn), so its least value on the interval is at
/// an end or at the bottom of one of them.
/// </summary>
public static class CertificateCheck
{
    private const double Rounding = 1e-9;

    /// <summary>What is wrong with the answer, in one sentence; null when it is proven.</summary>
    public static string? Objection(Joint joint, JointSolution solution)
    {
        var holes = joint.Holes.ToDictionary(hole => hole.Name, hole => hole, StringComparer.Ordinal);
        var (centreA, centreB) = (Mean(joint.Holes, hole => hole.A), Mean(joint.Holes, hole => hole.B));
        var scale = joint.Holes.Max(hole => (At(hole.A) - centreA).Magnitude + (At(hole.B) - centreB).Magnitude + Travel(hole) + Math.Abs(Play(joint, hole)));
        var faraway = Math.Max(centreA.Magnitude, centreB.Magnitude) + scale;
        if (!(scale < double.PositiveInfinity))
            return "The holes are not finite.";
        return MoveObjection(joint, solution, faraway)
            ?? CoverObjection(joint, solution.Certificate)
            ?? solution.Certificate.Intervals.Select((interval, k) => IntervalObjection(joint, holes, interval, k, centreA, centreB, scale)).FirstOrDefault(objection => objection is not null)
            ?? BoundObjection(solution);
    }

    private static string? MoveObjection(Joint joint, JointSolution solution, double faraway)
    {
        var slack = Rounding + (1e-14 * faraway);
        var turn = Complex.FromPolarCoordinates(1, solution.Move.RotationDegrees / 180 * Math.PI);
        var shift = new Complex(solution.Move.X, solution.Move.Y);
        if (Math.Abs(solution.Move.RotationDegrees) > joint.RotationLimitDegrees + Rounding)
            return "The move turns further than is permitted.";
        if (solution.Holes.Count != joint.Holes.Count)
            return "Not every hole has its clearance.";
        var least = double.PositiveInfinity;
        foreach (var (hole, answer) in joint.Holes.Zip(solution.Holes))
        {
            var axis = hole.A.Slot is null ? turn : Complex.One;
            axis *= Complex.FromPolarCoordinates(1, ((hole.A.Slot ?? hole.B.Slot)?.AngleDegrees ?? 0) / 180 * Math.PI);
            // In the slot's own axes: what is left of the distance beyond its travel.
            var apart = (At(hole.A) - (turn * At(hole.B)) - shift) * Complex.Conjugate(axis);
            var beyond = new Complex(Math.Max(0, Math.Abs(apart.Real) - (Travel(hole) / 2)), apart.Imaginary);
            var left = Play(joint, hole) - beyond.Magnitude;
            if (answer.Name != hole.Name || !(Math.Abs(left - answer.ClearanceLeft) <= slack))
                return $"Hole \"{hole.Name}\" has {left} mm left, not {answer.ClearanceLeft}.";
            least = Math.Min(least, left);
        }

        return Math.Abs(least - solution.Margin) <= slack ? null : $"The move leaves {least} mm, not {solution.Margin}.";
    }

    private static string? CoverObjection(Joint joint, Certificate certificate)
    {
        var limit = joint.RotationLimitDegrees / 180 * Math.PI;
        var intervals = certificate.Intervals;
        if (intervals.Count == 0)
            return "There are no intervals.";
        if (!(Math.Abs(intervals[0].From + limit) <= 1e-12 && Math.Abs(intervals[^1].To - limit) <= 1e-12))
            return "The intervals do not reach both ends of the permitted rotation.";
        for (var k = 0; k < intervals.Count; k++)
        {
            if (!(intervals[k].From <= intervals[k].To))
                return $"Interval {k + 1} runs backwards.";
            if (k > 0 && intervals[k].From != intervals[k - 1].To)
                return $"Interval {k + 1} does not begin where interval {k} ends.";
        }

        return null;
    }

    private static string? IntervalObjection(
        Joint joint, Dictionary<string, JointHole> holes, ProofInterval interval, int k, Complex centreA, Complex centreB, double scale)
    {
        if (interval.HeldTo is not ("a" or "b"))
            return $"Interval {k + 1} is held to neither part.";
        var sum = 0d;
        var resultant = Complex.Zero;
        var constant = 0d;
        var wave = Complex.Zero;
        var signed = new List<Complex>();
        foreach (var term in interval.Terms)
        {
            if (!holes.TryGetValue(term.Hole, out var hole))
                return $"Interval {k + 1} names a hole that is not there.";
            var direction = new Complex(term.X, term.Y);
            if (!(term.Weight >= 0) || !(direction.Magnitude <= 1 + Rounding))
                return $"Interval {k + 1} has a negative weight or a direction longer than 1.";
            sum += term.Weight;
            var push = term.Weight * direction;
            resultant += push;
            var (a, b) = (At(hole.A) - centreA, At(hole.B) - centreB);
            constant -= term.Weight * Play(joint, hole);
            // wave·e^(−iθ) has the part that turns as its real part.
            if (interval.HeldTo == "a")
            {
                constant += Dot(push, a);
                wave -= push * Complex.Conjugate(b);
            }
            else
            {
                constant -= Dot(push, b);
                wave += Complex.Conjugate(push) * a;
            }

            if ((hole.A.Slot ?? hole.B.Slot) is not { } slot)
                continue;
            var axis = Complex.FromPolarCoordinates(slot.Travel / 2, slot.AngleDegrees / 180 * Math.PI);
            if (interval.HeldTo == (hole.A.Slot is null ? "b" : "a"))
                constant -= Math.Abs(Dot(push, axis));
            else
                signed.Add(interval.HeldTo == "a" ? push * Complex.Conjugate(axis) : Complex.Conjugate(push) * axis);
        }

        if (!(Math.Abs(sum - 1) <= Rounding))
            return $"The weights of interval {k + 1} sum to {sum}, not 1.";
        // Shifts larger than this lose at the first hole alone; smaller ones are charged for what does not cancel.
        var charge = resultant.Magnitude * (4 * scale);
        if (!(resultant.Magnitude <= Rounding))
            return $"The weighted directions of interval {k + 1} do not cancel.";
        var least = double.PositiveInfinity;
        for (var signs = 0; signs < 1 << signed.Count; signs++)
        {
            var sinusoid = wave;
            for (var j = 0; j < signed.Count; j++)
                sinusoid += ((signs >> j) & 1) == 0 ? signed[j] : -signed[j];
            least = Math.Min(least, constant + Lowest(sinusoid, interval.From, interval.To));
        }

        return -(least - charge) <= interval.MarginAtMost + Rounding + (1e-13 * scale)
            ? null
            : $"Interval {k + 1} proves a margin of at most {-least}, not {interval.MarginAtMost}.";
    }

    /// <summary>Least real part of wave·e^(−iθ) on an interval.</summary>
    private static double Lowest(Complex wave, double from, double to)
    {
        double At(double angle) => (wave * Complex.FromPolarCoordinates(1, -angle)).Real;
        var bottom = wave.Phase + Math.PI;
        for (var turn = -2; turn <= 1; turn++)
        {
            var angle = bottom + (turn * 2 * Math.PI);
            if (angle >= from && angle <= to)
                return -wave.Magnitude;
        }

        return Math.Min(At(from), At(to));
    }

    private static string? BoundObjection(JointSolution solution)
    {
        var most = solution.Certificate.Intervals.Max(interval => interval.MarginAtMost);
        if (!(Math.Abs(most - solution.UpperBound) <= Rounding))
            return $"The intervals prove {most} mm, not {solution.UpperBound}.";
        return solution.Margin <= solution.UpperBound + Rounding ? null : "The margin is above its own bound.";
    }

    private static double Play(Joint joint, JointHole hole)
    {
        var b = hole.B.Diameter - (hole.B.Masked ? 0 : 2 * joint.FilmB) - hole.Fastener;
        var a = hole.Kind == FastenerKind.Stud ? 0 : hole.A.Diameter - (hole.A.Masked ? 0 : 2 * joint.FilmA) - hole.Fastener;
        return (a + b) / 2;
    }

    private static double Travel(JointHole hole) => (hole.A.Slot ?? hole.B.Slot)?.Travel ?? 0;

    private static double Dot(Complex p, Complex q) => (Complex.Conjugate(p) * q).Real;

    private static Complex At(HoleSide side) => new(side.X, side.Y);

    private static Complex Mean(IReadOnlyList<JointHole> holes, Func<JointHole, HoleSide> side)
    {
        var origin = At(side(holes[0]));
        return origin + (holes.Aggregate(Complex.Zero, (sum, hole) => sum + (At(side(hole)) - origin)) / holes.Count);
    }
}
