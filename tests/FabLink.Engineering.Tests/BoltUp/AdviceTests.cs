using System.Text.Json;
using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class AdviceTests
{
    private static readonly JsonSerializerOptions Web = JsonSerializerOptions.Web;

    [Fact]
    public void Every_advice_read_back_from_the_answer_and_carried_out_passes()
    {
        var kinds = new Dictionary<string, int>();
        for (var seed = 0; seed < 60; seed++)
        {
            var request = Failing(new Random(seed));
            // Through JSON and back: nothing but the shown numbers can be used.
            using var answer = JsonDocument.Parse(JsonSerializer.Serialize(BoltUpCalculation.Answer(request), Web));
            var wanted = answer.RootElement.GetProperty("wantedMargin").GetDouble();
            foreach (var advice in answer.RootElement.GetProperty("advice").EnumerateArray())
            {
                var carriedOut = BoltUpCalculation.Answer(CarriedOut(request, advice));
                Assert.True(carriedOut.BoltsUp, advice.GetRawText());
                Assert.True(carriedOut.Margin >= wanted - 1e-6, advice.GetRawText());
                Assert.Equal(carriedOut.Margin, advice.GetProperty("margin").GetDouble(), 1e-6);
                var kind = advice.GetProperty("kind").GetString()!;
                kinds[kind] = kinds.GetValueOrDefault(kind) + 1;
            }
        }

        foreach (var kind in (string[])["move-detail", "open-holes", "slot-holes", "open-all", "drill-to-mate"])
            Assert.True(kinds.GetValueOrDefault(kind) >= 6, $"{kind} was advised {kinds.GetValueOrDefault(kind)} times only");
    }

    [Fact]
    public void A_joint_that_has_the_wanted_margin_gets_no_advice() =>
        Assert.Empty(BoltUpCalculation.Answer(Two(300)).Advice);

    [Fact]
    public void A_tight_joint_bolts_up_and_gets_advice_all_the_same()
    {
        var answer = BoltUpCalculation.Answer(Two(302.95));
        Assert.True(answer.BoltsUp);
        Assert.NotEmpty(answer.Advice);
        Assert.Contains(answer.Cautions, caution => caution.Contains("less than the wanted margin", StringComparison.Ordinal));
    }

    // Closed form: 305 against 300 with 1.5 of play each; for 0.1 of margin the tab must come in by 5 − 2·1.4 = 2.2.
    [Fact]
    public void A_single_hole_on_a_tab_is_shifted_by_exactly_what_is_missing()
    {
        var answer = BoltUpCalculation.Answer(Two(305, "tab"));
        var move = answer.Advice[0].Move;
        Assert.Equal(new DetailMoveAnswer("tab", "b", "2", -2.2, 0, 0), move);
        Assert.Equal(0.1, answer.Advice[0].Margin, 1e-6);
    }

    [Fact]
    public void A_detail_of_part_a_is_moved_as_well()
    {
        var request = Two(305);
        request = request with { Holes = [request.Holes![0], request.Holes[1]! with { A = request.Holes[1]!.A! with { Detail = "bracket" } }] };
        Assert.Equal(new DetailMoveAnswer("bracket", "a", "2", 2.2, 0, 0), BoltUpCalculation.Answer(request).Advice[0].Move);
    }

    [Fact]
    public void A_detail_that_carries_every_hole_is_not_moved()
    {
        var request = Two(305, "frame");
        request = request with { Holes = [request.Holes![0]! with { B = request.Holes[0]!.B! with { Detail = "frame" } }, request.Holes[1]] };
        Assert.DoesNotContain(BoltUpCalculation.Answer(request).Advice, advice => advice.Kind == "move-detail");
    }

    // The pad is turned 1.1°. Play alone takes ±2·1.4/300 rad at the rest and ±2·1.4/640 rad at the pad, 0.79° together (1.4 = 1.5 − 0.1).
    [Fact]
    public void A_pad_that_is_turned_is_turned_back()
    {
        var (sin, cos) = Math.SinCos(1.1 * Math.PI / 180);
        var holes = new List<BoltUpHole?>
        {
            Hole("1", 0, 0, 0, 0), Hole("2", 0, 300, 0, 300),
            Hole("3", 100, 0, 100, 0, "pad"), Hole("4", 740, 0, 100 + (640 * cos), 640 * sin, "pad"),
        };
        var answer = BoltUpCalculation.Answer(new BoltUpRequest { Holes = holes });
        Assert.False(answer.BoltsUp);
        var move = answer.Advice[0].Move!;
        Assert.Equal(("pad", "3"), (move.Detail, move.About));
        Assert.InRange(move.TurnDegrees, -1.1, -0.3);
        Assert.Contains("° clockwise about hole 3", answer.Advice[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void No_smaller_shift_on_the_grid_would_do()
    {
        foreach (var spacing in (double[])[303.3, 304.1, 307.77])
        {
            var move = BoltUpCalculation.Answer(Two(spacing, "tab")).Advice[0].Move!;
            var smaller = BoltUpCalculation.Answer(Two(spacing + move.ShiftX + 0.1, "tab"));
            Assert.False(smaller.BoltsUp && smaller.Margin >= smaller.WantedMargin);
        }
    }

    [Fact]
    public void The_number_of_holes_to_open_is_the_smallest_there_is()
    {
        for (var seed = 0; seed < 40; seed++)
        {
            var random = new Random(seed);
            var holes = Enumerable.Range(0, 6).Select(i =>
                Hole($"{i}", (100 * i) + Off(random), 50 * (i % 2), 100 * i, (50 * (i % 2)) + Off(random))).ToArray();
            var answer = BoltUpCalculation.Answer(new BoltUpRequest { Holes = holes });
            if (answer.Advice.Count == 0)
                continue;
            var advised = answer.Advice.Single(advice => advice.Kind == "open-holes").Holes.Count;
            Assert.Equal(FewestByTrying(holes), advised);
        }

        static double Off(Random random) => random.Next(3) == 0 ? 6 * (random.NextDouble() - 0.5) : 0.2 * random.NextDouble();
    }

    [Fact]
    public void Opening_all_alike_takes_twice_what_is_missing()
    {
        // Two holes 305 against 300: margin −1, wanted 0.1, so 2.2 on every diameter of part b.
        var advice = BoltUpCalculation.Answer(Two(305)).Advice.Single(each => each.Kind == "open-all");
        Assert.All(advice.Holes, hole => Assert.Equal(15.7, hole.Diameter));
    }

    [Fact]
    public void Holes_of_one_size_that_measure_differently_are_opened_with_one_drill_and_another_size_stays_another()
    {
        // Common practice: a shop takes one drill for holes of one size.
        BoltUpRequest Sized(double one, double two) =>
            Two(305) with { Holes = [.. Two(305).Holes!.Select((hole, i) => hole! with { B = hole.B! with { Diameter = i == 0 ? one : two } })] };
        double[] Opened(BoltUpRequest request) => [.. BoltUpCalculation.Answer(request).Advice.Single(each => each.Kind == "open-all").Holes.Select(hole => hole.Diameter)];

        var same = Opened(Sized(13.53, 13.62));
        Assert.Equal(same[0], same[1]);
        Assert.True(same[0] >= 13.62 && Math.Abs((same[0] * 10) - Math.Round(same[0] * 10)) < 1e-9, $"{same[0]} is no step of 0.1");
        var different = Opened(Sized(13.5, 14.5));
        Assert.Equal(1, different[1] - different[0], 9);
        var named = BoltUpCalculation.Answer(Sized(13.5, 14.5)).Advice.Single(each => each.Kind == "open-all");
        Assert.Equal(FormattableString.Invariant($"Open all holes of part b: hole 1 to Ø{different[0]} mm, hole 2 to Ø{different[1]} mm."), named.Text);
    }

    [Fact]
    public void A_filed_slot_runs_towards_the_mate()
    {
        var advice = BoltUpCalculation.Answer(Two(305)).Advice.Single(each => each.Kind == "slot-holes");
        var hole = Assert.Single(advice.Holes);
        Assert.Equal(hole.Name == "2" ? 180 : 0, hole.Slot!.AngleDegrees);
        Assert.Equal(2.2, hole.Slot.Travel);
        // Filed one way only: the far end stays where the hole was.
        Assert.Equal(1.1, Math.Abs(hole.X - (hole.Name == "2" ? 305 : 0)), 9);
    }

    [Fact]
    public void A_hole_that_stops_its_own_fastener_is_opened_first()
    {
        var request = Two(300);
        request = request with { Film = new BoltUpFilm { B = 0.1 }, Holes = [request.Holes![0], request.Holes[1]! with { B = request.Holes[1]!.B! with { Diameter = 12.2 } }] };
        var answer = BoltUpCalculation.Answer(request);
        Assert.False(answer.BoltsUp);
        Assert.Equal(["2"], answer.Obstructed);
        var hole = Assert.Single(answer.Advice.Single(each => each.Kind == "open-holes").Holes);
        Assert.Equal(("2", 12.3), (hole.Name, hole.Diameter));
    }

    [Fact]
    public void A_hole_not_yet_drilled_is_drilled_where_the_mate_has_it()
    {
        var request = Two(305);
        request = request with { Holes = [request.Holes![0], Hole("3", 0, 200, 0, 200), request.Holes[1]! with { B = request.Holes[1]!.B! with { Drilled = false } }] };
        var advice = BoltUpCalculation.Answer(request).Advice.Single(each => each.Kind == "drill-to-mate");
        var hole = Assert.Single(advice.Holes);
        Assert.Equal(("2", 300d, 0d), (hole.Name, hole.X, hole.Y));
    }

    [Fact]
    public void A_tapped_hole_is_never_opened_in_its_own_part()
    {
        var request = Two(305) with { Adjust = "a" };
        request = request with { Holes = [.. request.Holes!.Select(hole => hole! with { Kind = "stud" })] };
        Assert.DoesNotContain(BoltUpCalculation.Answer(request).Advice, advice => advice.Holes.Count > 0);
    }

    [Fact]
    public void A_shop_that_works_in_inches_is_told_what_it_can_set_although_the_question_is_in_millimetres()
    {
        var advice = BoltUpCalculation.Answer(Cradle.Request, setIn: "in").Advice;

        // The inch is exactly 25.4 mm (ISO 80000-3:2019, annex; from memory); a shop sets half a thousandth, and opens a hole by so much.
        Assert.NotEmpty(advice);
        var was = Cradle.Request.Holes!.ToDictionary(hole => hole!.Name!, hole => hole!.B!.Diameter!.Value);
        Assert.All(
            advice.SelectMany(each => each.Holes.Select(hole => hole.Diameter - was[hole.Name]).Append(each.Move?.ShiftX ?? 0).Append(each.Move?.ShiftY ?? 0)),
            length => Assert.Equal(Math.Round(length / 25.4 / 0.0005), length / 25.4 / 0.0005, 6));
        Assert.NotEqual(BoltUpCalculation.Answer(Cradle.Request).Advice[0].Move, advice[0].Move);
        Assert.All(advice, each => Assert.True(BoltUpCalculation.Answer(CarriedOut(Cradle.Request, JsonSerializer.SerializeToElement(each, Web))).BoltsUp));
    }

    [Fact]
    public void Advice_in_inches_is_on_the_inch_grid()
    {
        var request = new BoltUpRequest
        {
            Unit = "in",
            Holes = [Inch("1", 0, 0), Inch("2", 12, 12.2)],
        };
        var advice = BoltUpCalculation.Answer(request).Advice;
        Assert.All(advice.SelectMany(each => each.Holes).Where(hole => hole.Slot is null), hole => Assert.Equal(0, Math.IEEERemainder(hole.Diameter - 0.531, 0.005), 9));
        Assert.NotEmpty(advice);

        static BoltUpHole Inch(string name, double a, double b) => new()
        {
            Name = name,
            Fastener = 0.472,
            A = new BoltUpSide { X = a, Y = 0, Diameter = 0.531 },
            B = new BoltUpSide { X = b, Y = 0, Diameter = 0.531 },
        };
    }

    private static BoltUpHole Hole(string name, double ax, double ay, double bx, double by, string? detail = null) => new()
    {
        Name = name,
        Fastener = 12,
        A = new BoltUpSide { X = ax, Y = ay, Diameter = 13.5 },
        B = new BoltUpSide { X = bx, Y = by, Diameter = 13.5, Detail = detail },
    };

    private static BoltUpRequest Two(double spacing, string? detail = null) =>
        new() { Holes = [Hole("1", 0, 0, 0, 0), Hole("2", 300, 0, spacing, 0, detail)] };

    private static BoltUpRequest Failing(Random random)
    {
        while (true)
        {
            var count = 4 + random.Next(4);
            var holes = new BoltUpHole?[count];
            for (var i = 0; i < count; i++)
            {
                double x = 600 * random.NextDouble(), y = 400 * random.NextDouble();
                double Off() => 3.2 * (random.NextDouble() - 0.5);
                var hole = Hole($"{i + 1}", x, y, x + Off(), y + Off(), i < 2 ? "left pad" : i == 2 ? "tab" : null);
                if (i == 0)
                    hole = hole with { A = hole.A! with { Detail = "machine bracket" } };
                if (random.Next(6) == 0)
                    hole = hole with { A = hole.A! with { Slot = new BoltUpSlot { Travel = 4, AngleDegrees = 180 * random.NextDouble() } } };
                if (i == count - 1 && random.Next(4) > 0)
                    hole = hole with { B = hole.B! with { X = hole.B!.X + 3, Drilled = false } };
                holes[i] = hole;
            }

            var request = new BoltUpRequest { Holes = holes, Film = new BoltUpFilm { B = 0.05 } };
            if (!PlanarBoltUp.Solve(BoltUpCalculation.JointOf(request)).BoltsUp)
                return request;
        }
    }

    private static BoltUpRequest CarriedOut(BoltUpRequest request, JsonElement advice)
    {
        var holes = request.Holes!.ToArray();
        if (advice.GetProperty("move") is { ValueKind: JsonValueKind.Object } move)
        {
            var inA = move.GetProperty("side").GetString() == "a";
            var detail = move.GetProperty("detail").GetString();
            BoltUpSide Of(BoltUpHole hole) => inA ? hole.A! : hole.B!;
            var pivot = Of(holes.Single(hole => hole!.Name == move.GetProperty("about").GetString())!);
            var turn = move.GetProperty("turnDegrees").GetDouble();
            var (sin, cos) = Math.SinCos(turn * Math.PI / 180);
            for (var i = 0; i < holes.Length; i++)
            {
                var side = Of(holes[i]!);
                if (side.Detail != detail)
                    continue;
                double x = side.X!.Value - pivot.X!.Value, y = side.Y!.Value - pivot.Y!.Value;
                side = side with
                {
                    X = pivot.X + (x * cos) - (y * sin) + move.GetProperty("shiftX").GetDouble(),
                    Y = pivot.Y + (x * sin) + (y * cos) + move.GetProperty("shiftY").GetDouble(),
                    Slot = side.Slot is null ? null : side.Slot with { AngleDegrees = side.Slot.AngleDegrees + turn },
                };
                holes[i] = inA ? holes[i]! with { A = side } : holes[i]! with { B = side };
            }
        }

        foreach (var change in advice.GetProperty("holes").EnumerateArray())
        {
            var i = Array.FindIndex(holes, hole => hole!.Name == change.GetProperty("name").GetString());
            var inA = change.GetProperty("side").GetString() == "a";
            var slot = change.GetProperty("slot");
            var side = (inA ? holes[i]!.A! : holes[i]!.B!) with
            {
                X = change.GetProperty("x").GetDouble(),
                Y = change.GetProperty("y").GetDouble(),
                Diameter = change.GetProperty("diameter").GetDouble(),
                Slot = slot.ValueKind == JsonValueKind.Null ? null : slot.Deserialize<BoltUpSlot>(Web),
            };
            holes[i] = inA ? holes[i]! with { A = side } : holes[i]! with { B = side };
        }

        return request with { Holes = holes };
    }

    private static int FewestByTrying(BoltUpHole[] holes)
    {
        var least = holes.Length;
        for (var open = 0; open < 1 << holes.Length; open++)
        {
            var kept = holes.Where((_, i) => ((open >> i) & 1) == 0).ToArray();
            if (holes.Length - kept.Length >= least)
                continue;
            if (kept.Length == 0 || PlanarBoltUp.Solve(BoltUpCalculation.JointOf(new BoltUpRequest { Holes = kept })).Margin >= 0.1 - 1e-6)
                least = holes.Length - kept.Length;
        }

        return least;
    }
}
