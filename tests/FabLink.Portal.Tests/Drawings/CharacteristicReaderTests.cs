using FabLink.Engineering;
using FabLink.Portal.Features.Drawings;

namespace FabLink.Portal.Tests.Drawings;

public sealed class CharacteristicReaderTests
{
    private static CharacteristicEntry Row(string balloon, string requirement) =>
        new() { Balloon = balloon, Requirement = requirement, Stages = "tack, as welded" };

    private static Characteristic One(CharacteristicEntry entry, string unit = "mm", string? general = null)
    {
        var reading = CharacteristicReader.Read([entry], unit, general);
        Assert.Empty(reading.Problems);
        return Assert.Single(reading.Characteristics);
    }

    private static bool SameWords(Characteristic one, Characteristic other) => one.SaysTheSameAs(other);

    private static EntryProblem Refused(CharacteristicEntry entry, string unit = "mm", string? general = null) =>
        Assert.Single(CharacteristicReader.Read([entry], unit, general).Problems);

    [Fact]
    public void Ten_holes_are_one_balloon_with_ten_places()
    {
        var holes = One(Row("12", "10× Ø13.5 +0.27/0"));

        Assert.Equal((12, 10, "diameter", "Ø13.5 +0.27/0"), (holes.Balloon, holes.Count, holes.Kind, holes.Requirement));
        Assert.Equal((13.5m, 13.5m, 13.77m), (holes.Nominal, holes.LowerLimit, holes.UpperLimit));
        Assert.Equal("10× Ø13.5 +0.27/0", holes.CallOut);
    }

    // ISO 2692: the number in the frame with Ⓜ holds at maximum material.
    [Fact]
    public void A_position_at_maximum_material_keeps_the_balloon_of_its_hole()
    {
        var reading = CharacteristicReader.Read(
            [Row("12", "10× Ø13.5 +0.27/0"), Row("13", "10× ⌖ Ø0.75 M (hole 12)"), Row("14", "10× Ø0.75 L (hole 12)") with { Kind = "position" }], "mm", null);

        Assert.Empty(reading.Problems);
        var (most, least) = (reading.Characteristics[1], reading.Characteristics[2]);
        Assert.Equal(("position", "⌖ Ø0.75 Ⓜ (hole 12)", 10, 0.75m), (most.Kind, most.Requirement, most.Count, most.UpperLimit));
        Assert.Equal(("M", (int?)12, "hole"), (most.Modifier, most.SizeBalloon, most.SizeOf));
        Assert.Equal(("L", (int?)12, "⌖ Ø0.75 Ⓛ (hole 12)"), (least.Modifier, least.SizeBalloon, least.Requirement));
        Assert.Equal(most, Assert.Single(CharacteristicReader.Read([most.ToEntry(), reading.Characteristics[0].ToEntry()], "mm", null).Characteristics, one => one.Balloon == 13), SameWords);
    }

    [Theory]
    [InlineData("Ø13.5 +0.27/0", "tack", "is not checked at as welded")]
    [InlineData("3× Ø13.5 +0.27/0", "tack, as welded", "has 3 places, the position 1")]
    [InlineData("max 13.5", "tack, as welded", "is not a size with two limits")]
    public void The_size_behind_a_modifier_must_be_measurable_where_the_position_is(string size, string stages, string why)
    {
        var reading = CharacteristicReader.Read([Row("12", size) with { Stages = stages }, Row("13", "⌖ Ø0.75 M (hole 12)")], "mm", null);

        Assert.Contains(why, Assert.Single(reading.Problems).Message, StringComparison.Ordinal);
        Assert.Equal(1, reading.Problems[0].Row);
    }

    [Theory]
    [InlineData("4× ⌖ Ø0.75 Ⓜ (hole 11)")]
    [InlineData("4× Ø0.75 Ⓜ (hole 11)")]
    [InlineData("4× ⌖ Ø0.75 M (hole 11)")]
    public void A_position_with_its_sign_is_read_with_its_kind_given_as_without(string text)
    {
        var size = Row("11", "4× Ø13.5 +0.27/0");
        var reading = CharacteristicReader.Read([size, Row("12", text) with { Kind = "position" }], "mm", null);
        Assert.Empty(reading.Problems);
        Assert.Equal(("position", 4, "M", 11), (reading.Characteristics[1].Kind, reading.Characteristics[1].Count, reading.Characteristics[1].Modifier, reading.Characteristics[1].SizeBalloon));
    }

    [Theory]
    [InlineData("Ø-5 ±0.1", null, "reaches below zero, and no diameter does")]
    [InlineData("Ø5 ±6", null, "reaches below zero, and no diameter does")]
    [InlineData("R-2 ±0.5", null, "reaches below zero, and no radius does")]
    [InlineData("80 ±20 mm", "film", "is thicker than any film. Is µm meant?")]
    public void What_no_part_can_have_is_refused(string text, string? kind, string why) =>
        Assert.Contains(why, Refused(Row("3", text) with { Kind = kind }).Message, StringComparison.Ordinal);

    [Fact]
    public void A_coordinate_may_be_below_zero_and_a_film_in_micrometres()
    {
        Assert.Equal(-50, One(Row("3", "-50 ±0.5")).Nominal);
        Assert.Equal(0.12m, One(Row("3", "60-120 µm") with { Kind = "film" }).UpperLimit);
    }

    [Theory]
    [InlineData("rails/1 diameter, M20", "A fastener of 20 mm does not pass Ø13.5 ±0.2.")]
    [InlineData("rails/1 diameter, M20, stud", null)]
    [InlineData("rails/1 diameter, M12", null)]
    public void A_fastener_that_does_not_pass_its_hole_is_refused(string locates, string? why)
    {
        var problems = CharacteristicReader.Read([Row("3", "Ø13.5 ±0.2") with { Locates = locates }], "mm", null).Problems;
        Assert.Equal(why, problems.SingleOrDefault()?.Message);
    }

    /// <summary>ISO 1101:2017, table 2: which tolerances are of form, orientation, location and run-out.</summary>
    [Theory]
    [InlineData("Flatness", "form")]
    [InlineData("cylindricity", "form")]
    [InlineData("perpendicularity", "orientation")]
    [InlineData("coaxiality", "position")]
    [InlineData("runout", "run-out")]
    public void A_kind_may_be_named_by_its_tolerance(string typed, string kind)
    {
        var row = One(Row("3", "0.2") with { Kind = typed });
        Assert.Equal((kind, 0.2m), (row.Kind, row.UpperLimit));
    }

    [Fact]
    public void A_modifier_without_its_size_is_refused()
    {
        Assert.Contains("needs the balloon", Refused(Row("13", "⌖ Ø0.75 M")).Message, StringComparison.Ordinal);
        Assert.Contains("not among these", Refused(Row("13", "⌖ Ø0.75 M (hole 12)")).Message, StringComparison.Ordinal);
        Assert.Contains("not of the kind", Refused(Row("13", "⌖ Ø0.75") with { Kind = "length" }).Message, StringComparison.Ordinal);
    }

    // ISO 2768-1:1989, Table 1, class m, over 30 to 120: ±0.3
    [Fact]
    public void The_general_tolerance_fills_the_blank_and_says_so()
    {
        var size = One(Row("1", "120"), general: "ISO 2768-mK");

        Assert.Equal((119.7m, 120.3m, "ISO 2768-mK"), (size.LowerLimit, size.UpperLimit, size.LimitsFrom));
    }

    // ISO 286-1:2010, Table 2 (IT7 over 30 to 50: 25 µm), H: lower deviation 0
    [Fact]
    public void A_fit_says_which_class_its_limits_are_from()
    {
        var bore = One(Row("1", "Ø50 H7"));

        Assert.Equal((50m, 50.025m, "ISO 286-1 H7"), (bore.LowerLimit, bore.UpperLimit, bore.LimitsFrom));
    }

    [Fact]
    public void Inches_are_kept_exactly_in_millimetres_and_shown_in_inches()
    {
        var size = One(Row("1", ".750 ±.005"), unit: "in");

        Assert.Equal((18.923m, 19.177m, "in"), (size.LowerLimit, size.UpperLimit, size.Unit));
        Assert.Equal("0.745", size.Show(size.LowerLimit!.Value));
    }

    [Fact]
    public void An_angle_is_kept_in_seconds_of_arc_and_shown_as_it_was_written()
    {
        var angle = One(Row("7", "92° ±0°30'"));

        Assert.Equal(("angle", 91.5m * 3600, 92.5m * 3600), (angle.Kind, angle.LowerLimit, angle.UpperLimit));
        Assert.Equal(angle.Unit == "dms" ? "91°30'" : "91.5°", angle.Show(angle.LowerLimit!.Value));
    }

    // ISO 1101:2017, 8.1: the number in the tolerance indicator is the width, or behind Ø the diameter, of the zone.
    [Theory]
    [InlineData("position", "Ø0.75", "Ø0.75", 1)]
    [InlineData("form", "0,6", "0,6", 1)]
    [InlineData("position", "4× Ø0.5", "Ø0.5", 4)]
    public void A_bare_number_of_a_zone_is_its_largest_width_even_under_a_general_tolerance(string kind, string typed, string kept, int count)
    {
        var zone = One(Row("3", typed) with { Kind = kind }, general: "ISO 2768-mK");

        Assert.Null(zone.LowerLimit);
        Assert.NotNull(zone.UpperLimit);
        Assert.Equal((kept, count, "stated"), (zone.Requirement, zone.Count, zone.LimitsFrom));
    }

    [Theory]
    [InlineData("critical", "guarded")]
    [InlineData("major", "guarded")]
    [InlineData("minor", "simple")]
    [InlineData(null, "simple")]
    public void The_rule_follows_the_class_unless_it_is_said(string? characteristicClass, string rule) =>
        Assert.Equal(rule, One(Row("1", "12 ±0.1") with { Class = characteristicClass }).Rule);

    [Fact]
    public void What_is_judged_yes_or_no_is_simple_whatever_its_class()
    {
        var thread = One(Row("5", "go/no-go: M12-6H") with { Class = "critical" });

        Assert.Equal(("attribute", "simple", "none"), (thread.Kind, thread.Rule, thread.Unit));
        Assert.Equal("Rule", Refused(Row("5", "go/no-go: M12-6H") with { Rule = "guarded" }).Field);
    }

    [Fact]
    public void Words_may_be_shortened_while_they_mean_one_thing_only()
    {
        var row = One(Row("1", "12 ±0.1") with { Class = "crit", Stages = "weld; receiving, tack", Applies = "after" });

        Assert.Equal("critical", row.Class);
        Assert.Equal("after coating", row.Applies);
        Assert.Equal(["tack", "as welded", "receiving"], row.Stages);
        Assert.Equal("Stages", Refused(Row("1", "12 ±0.1") with { Stages = "coat" }).Field);
        Assert.Equal("Class", Refused(Row("1", "12 ±0.1") with { Class = "m" }).Field);
    }

    [Fact]
    public void What_is_checked_after_coat_only_applies_after_coating_unless_it_is_said()
    {
        Assert.Equal("after coating", One(Row("1", "60-120 µm")).Applies);
        Assert.Equal("after coating", One(Row("1", "12 ±0.1") with { Stages = "after coat" }).Applies);
        Assert.Equal("before coating", One(Row("1", "12 ±0.1") with { Stages = "after coat", Applies = "before" }).Applies);
        Assert.Equal("before coating", One(Row("1", "12 ±0.1") with { Stages = "as welded, after coat" }).Applies);
    }

    [Fact]
    public void The_shortest_entry_leaves_out_what_follows_by_itself_and_nothing_else()
    {
        var plain = CharacteristicReader.Shortest(One(Row("1", "120"), general: "ISO 2768-m"), "mm", "ISO 2768-m");
        Assert.Equal(("120", null, null, null, null, null, "minor"), (plain.Requirement, plain.Kind, plain.Unit, plain.Count, plain.Applies, plain.Rule, plain.Class));
        foreach (var row in new[]
                 {
                     Row("2", "4× Ø0.5") with { Kind = "position", Rule = "simple", Class = "major" }, Row("3", "10× Ø13.5 +0.27/0"),
                     Row("4", ".750 ±.005 in"), Row("5", "45° ±0°20'"), Row("6", "12 ±0.1") with { Applies = "after", Unit = "in" },
                 })
        {
            var read = One(row);
            Assert.True(One(CharacteristicReader.Shortest(read, "mm", null)).SaysTheSameAs(read), $"{read}");
        }
    }

    [Fact]
    public void A_ditto_mark_takes_what_stands_above()
    {
        var reading = CharacteristicReader.Read(
            [Row("1", "12 ±0.1") with { Class = "critical" }, new(), Row("2", "\"") with { Class = "\"", Stages = "\"" }], "mm", null);

        Assert.Empty(reading.Problems);
        Assert.Equal(("12 ±0.1", "critical"), (reading.Characteristics[1].Requirement, reading.Characteristics[1].Class));
    }

    [Fact]
    public void Every_problem_is_told_at_once_with_its_row_and_field()
    {
        var problems = CharacteristicReader.Read(
            [
                Row("1", "12 ±0.1"),
                new CharacteristicEntry(),
                Row("1", "12"),
                Row("x", "12 ±0.1"),
                Row("4", "12 ±0.1") with { Stages = "" },
                Row("5", "4× R5 ±1") with { Count = "3" },
                Row("1", "9 ±0.1"),
                Row("7", "12 ±0.1") with { Unit = "furlong" },
                Row("8", "12 ±0.1") with { Kind = "angle", Unit = "mm" },
            ],
            "mm",
            null).Problems;

        Assert.Equal(
            [(2, "Requirement"), (3, "Balloon"), (4, "Stages"), (5, "Count"), (6, "Balloon"), (7, "Unit"), (8, "Kind")],
            problems.Select(problem => (problem.Row, problem.Field)));
    }

    [Fact]
    public void What_was_read_reads_the_same_again()
    {
        string[] texts = ["10× Ø13.5 +0.27/0", "12,5 ±0,1", "max 0.5", "min 40", "Ø50 H7", "R5 ±0.5", "45° ±0°20'", ".750 ±.005 in", "60-120 µm", "go/no-go: M12-6H", "note: deburr", "120"];
        foreach (var text in texts)
        {
            var once = One(Row("3", text), general: "ISO 2768-m");
            var twice = One(once.ToEntry(), general: "ISO 2768-m");

            Assert.True(once.SaysTheSameAs(twice), $"{text}: {once} / {twice}");
        }
    }

    // ISO 2768-1, table 3: 45° with a shorter leg of up to 50 mm is within 0°30', of up to 120 mm within 0°20': 44°40' is 44.666…°.
    [Theory]
    [InlineData("45° (leg 40)", "44.5°")]
    [InlineData("45° (leg 100)", "44°40'")]
    public void A_limit_in_degrees_that_no_decimal_ends_is_shown_in_minutes(string text, string lower)
    {
        var angle = One(Row("3", text), general: "ISO 2768-m");
        Assert.Equal(lower, angle.Show(angle.LowerLimit!.Value));
    }

    [Fact]
    public void A_general_tolerance_that_is_none_is_refused() =>
        Assert.Throws<InputError>(() => CharacteristicReader.Read([], "mm", "ISO 9999-x"));
}
