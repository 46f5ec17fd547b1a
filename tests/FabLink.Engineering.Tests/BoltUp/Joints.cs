using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

/// <summary>Joints for the tests: short to write, random ones from a seed.</summary>
internal static class Joints
{
    public static JointHole Round(string name, double ax, double ay, double bx, double by, double diameter = 13.5, double fastener = 12) =>
        new(name, new HoleSide(ax, ay, diameter), new HoleSide(bx, by, diameter), fastener, FastenerKind.Floating);

    public static Joint Of(params JointHole[] holes) => new(holes, 0, 0, 180);

    public static Joint Random(Random random, int count, bool mixedSlots, double limit = 180)
    {
        var span = Math.Pow(10, 1 + (2 * random.NextDouble()));
        var spread = Math.Pow(10, -1 + (1.5 * random.NextDouble()));
        var turn = random.Next(3) == 0 ? 2 * Math.PI * random.NextDouble() : 0.05 * (random.NextDouble() - 0.5);
        var (sin, cos) = Math.SinCos(turn);
        var slotsInA = random.Next(2) == 0;
        var holes = new JointHole[count];
        for (var i = 0; i < count; i++)
        {
            double bx = span * (random.NextDouble() - 0.5), by = span * (random.NextDouble() - 0.5);
            if (i > 0 && random.Next(12) == 0)
                (bx, by) = (holes[0].B.X, holes[0].B.Y);
            var ax = (cos * bx) - (sin * by) + (spread * (random.NextDouble() - 0.5)) + 3;
            var ay = (sin * bx) + (cos * by) + (spread * (random.NextDouble() - 0.5)) - 7;
            var fastener = random.Next(2) == 0 ? 12 : 10;
            var kind = random.Next(4) == 0 ? FastenerKind.Stud : FastenerKind.Floating;
            var a = new HoleSide(ax, ay, fastener + 0.2 + (2 * random.NextDouble())) { Masked = random.Next(3) == 0 };
            var b = new HoleSide(bx, by, fastener + 0.2 + (2 * random.NextDouble())) { Masked = random.Next(3) == 0 };
            if (random.Next(3) == 0)
            {
                var slot = new Slot(8 * random.NextDouble(), 360 * random.NextDouble());
                var inA = mixedSlots ? random.Next(2) == 0 : slotsInA;
                if (inA && kind == FastenerKind.Floating)
                    a = a with { Slot = slot };
                else if (mixedSlots || !slotsInA)
                    b = b with { Slot = slot };
            }

            holes[i] = new JointHole($"{i + 1}", a, b, fastener, kind);
        }

        return new Joint(holes, 0.05 * random.Next(2), 0.07 * random.Next(2), limit);
    }
}
