using System.Diagnostics;
using System.Globalization;
using System.Text;
using FabLink.Engineering.Quantities;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Reports.Import;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class MatchingTests(ITestOutputHelper output)
{
    private static readonly Expectation Bracket = new("RH-140", "B", "tack",
        [
            Expect(1, "120 ±0.3"), Expect(2, "45° ±0°30'"), Expect(7, "12.0 +0.1/0", required: false),
            Expect(12, "10× Ø13.5 +0.3/0"), Expect(20, "go/no-go: thread gauge"), Expect(21, "note: deburr", required: false),
        ],
        [new(Guid.NewGuid(), "RH-140-001"), new(Guid.NewGuid(), "RH-140-002")]);

    private static readonly Expectation OnePiece = Bracket with { Pieces = [Bracket.Pieces[0]] };

    private static readonly Expectation Note = OnePiece with { Characteristics = [Expect(21, "note: deburr")] };

    private static ExpectedCharacteristic Expect(int balloon, string text, bool required = true)
    {
        var requirement = Requirement.Parse(text, Unit.Millimetre, null);
        return new ExpectedCharacteristic(Guid.NewGuid(), balloon, requirement.Count, requirement.Unit, text, requirement.Nominal, requirement.Limits, required,
            requirement is GoNoGo ? AnswerForm.GoNoGo : requirement is NoteOnly ? AnswerForm.YesOrNo : AnswerForm.Number);
    }

    [Fact]
    public void A_complete_file_of_two_pieces_matches_whole()
    {
        var text = new StringBuilder("serial;balloon;value;unit;uncertainty\n");
        foreach (var serial in new[] { "RH-140-001", "rh-140-002" })
        {
            text.Append(CultureInfo.InvariantCulture, $"{serial};1;4,724;in;0,001\n{serial};2;45°10';;0°6'\n{serial};20;go;;\n");
            for (var i = 1; i <= 10; i++)
                text.Append(CultureInfo.InvariantCulture, $"{serial};12.{i};13,6;mm;0,02\n");
        }

        var matched = Match(text.ToString(), Bracket);

        Assert.Empty(matched.Problems);
        Assert.Empty(matched.Missing);
        Assert.Empty(matched.Untouched);
        Assert.True(matched.MaySubmit);
        Assert.Equal(26, matched.Values.Count);
        // 1 in = 25.4 mm exactly (international yard and pound agreement of 1959).
        Assert.Equal((119.9896m, 0.0254m, Unit.Inch), (matched.Values[0].Value, matched.Values[0].ExpandedUncertainty, matched.Values[0].Unit));
        Assert.Equal((162600m, 360m), (matched.Values[1].Value, matched.Values[1].ExpandedUncertainty));
        Assert.Equal(1, matched.Values[2].Value);
        Assert.Equal(Enumerable.Range(1, 10), matched.Values.Where(value => value.Piece == Bracket.Pieces[1] && value.Characteristic.Balloon == 12).Select(value => value.Instance));
    }

    [Fact]
    public void What_the_stage_asks_for_and_the_file_has_not_is_missing()
    {
        var matched = Match("balloon,value,unit\n1,120,mm\n12.3,13.6,mm\n20,ok,\n2,45,deg\n", OnePiece);
        Assert.True(matched.MaySubmit);
        Assert.Equal(["12.1", "12.2", "12.4", "12.5", "12.6", "12.7", "12.8", "12.9", "12.10"], matched.Missing.Select(missing => missing.BalloonText));
    }

    [Fact]
    public void A_piece_that_the_file_does_not_mention_is_untouched_rather_than_missing()
    {
        var matched = Match("balloon,value,unit,serial\n1,120,mm,RH-140-002\n", Bracket);
        Assert.Equal([Bracket.Pieces[0]], matched.Untouched);
        Assert.All(matched.Missing, missing => Assert.Equal(Bracket.Pieces[1], missing.Piece));
    }

    [Theory]
    [InlineData("1,120,mm\n99,5,mm", 3, "balloon", "Balloon 99 is not on revision B")]
    [InlineData("12.11,13.6,mm", 2, "balloon", "has 10 values; 12.11 is beyond")]
    [InlineData("1.2,120,mm", 2, "balloon", "has one value only")]
    [InlineData("1,120,mm\n1,120.1,mm", 3, "balloon", "given in row 2 already")]
    [InlineData("12.1,13.6,mm\n12.1,13.6,mm", 3, "balloon", "if it is 12.10, the spreadsheet dropped the zero")]
    [InlineData("1,NaN,mm", 2, "value", "needs a number")]
    [InlineData("1,∞,mm", 2, "value", "needs a number")]
    [InlineData("1,1e5,mm", 2, "value", "needs a number")]
    [InlineData("1,\"1.234,5\",mm", 2, "value", "more than one decimal mark")]
    [InlineData("1,120.0000000000000000000000001,mm", 2, "value", "more than 24 digits")]
    [InlineData("1,about 120,mm", 2, "value", "does not belong in one")]
    [InlineData("1,ok,mm", 2, "value", "needs a number")]
    [InlineData("1,45,deg", 2, "unit", "cannot be compared")]
    [InlineData("2,45,mm", 2, "unit", "cannot be compared")]
    [InlineData("20,1.5,mm", 2, "value", "go or no go")]
    [InlineData("12,13.6,mm\n12.2,13.6,mm", 2, "balloon", "some rows number them")]
    public void What_cannot_be_taken_over_is_refused_with_row_and_field(string rows, int row, string field, string because)
    {
        var matched = Match("balloon,value,unit\n" + rows, OnePiece);
        var problem = Assert.Single(matched.Problems, found => found.Severity == Severity.Refuse);
        Assert.Equal((row, field), (problem.Row, problem.Field));
        Assert.Contains(because, problem.Message, StringComparison.Ordinal);
        Assert.False(matched.MaySubmit);
    }

    [Theory]
    [InlineData("yes", 1)]
    [InlineData("Done", 1)]
    [InlineData("no", 0)]
    [InlineData("not done", 0)]
    public void A_note_of_the_drawing_is_done_or_it_is_not(string typed, int value) =>
        Assert.Equal(value, Assert.Single(Match($"balloon,value\n21,{typed}\n", Note).Values).Value);

    [Theory]
    [InlineData("not deburred")]
    [InlineData("burrs left")]
    [InlineData("maybe")]
    [InlineData("0")]
    public void Other_words_about_a_note_are_no_answer(string typed)
    {
        var problem = Assert.Single(Match($"balloon,value\n21,{typed}\n", Note).Problems, found => found.Severity == Severity.Refuse);
        Assert.Equal((2, "value"), (problem.Row, problem.Field));
        Assert.Contains("yes or no; other words go into the column note", problem.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Revision,A", "revision", "for revision A; the work order is for revision B")]
    [InlineData("Part,RH-999", "part", "for part RH-999")]
    [InlineData("Stage,as welded", "stage", "for stage “as welded”")]
    public void A_file_for_something_else_is_refused(string above, string field, string because)
    {
        var problem = Assert.Single(Match(above + "\nballoon,value,unit\n1,120,mm\n", OnePiece).Problems);
        Assert.Equal((1, field, Severity.Refuse), (problem.Row, problem.Field, problem.Severity));
        Assert.Contains(because, problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_file_for_just_this_says_so_and_passes() =>
        Assert.Empty(Match("Part,rh-140\nRevision,b\nStage,Tack\nballoon,value,unit\n1,120,mm\n", OnePiece).Problems);

    [Theory]
    [InlineData("1,4.724,mm", "in inches")]
    [InlineData("1,120,in", "in millimetres")]
    [InlineData("1,\"0,120\",mm", "three places to the right")]
    [InlineData("1,120000,mm", "three places to the left")]
    [InlineData("12.1,0.5315,mm", "in inches")]
    [InlineData("1,1200,mm", "one place to the left")]
    [InlineData("1,1.2,mm", "two places to the right")]
    public void A_value_that_looks_like_another_unit_is_warned_about(string row, string meant)
    {
        var matched = Match("balloon,value,unit\n" + row, OnePiece);
        var problem = Assert.Single(matched.Problems);
        Assert.Equal((2, "value", Severity.Warn), (problem.Row, problem.Field, problem.Severity));
        Assert.Contains(meant, problem.Message, StringComparison.Ordinal);
        Assert.True(matched.MaySubmit);
    }

    [Theory]
    [InlineData("1,119,mm")]
    [InlineData("1,3,mm")]
    [InlineData("1,0,mm")]
    [InlineData("2,45.9,deg")]
    public void A_value_that_is_merely_bad_is_not(string row) =>
        Assert.Empty(Match("balloon,value,unit\n" + row, OnePiece).Problems);

    [Fact]
    public void An_unknown_serial_is_told_once_and_the_end_of_a_serial_will_do()
    {
        var matched = Match("balloon,value,unit,serial\n1,120,mm,2\n1,120,mm,RH-140-077\n2,45,deg,RH-140-077\n", Bracket);
        Assert.Equal([(2, Severity.Warn), (3, Severity.Refuse)], matched.Problems.Select(problem => (problem.Row!.Value, problem.Severity)));
        Assert.Equal(Bracket.Pieces[1], Assert.Single(matched.Values).Piece);
        Assert.Contains("RH-140-001, RH-140-002", matched.Problems[1].Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Without_a_serial_there_must_be_one_piece_only()
    {
        Assert.True(Match("balloon,value,unit\n1,120,mm\n", OnePiece).MaySubmit);
        var problem = Assert.Single(Match("balloon,value,unit\n1,120,mm\n2,45,deg\n", Bracket).Problems);
        Assert.Equal(("serial", Severity.Refuse), (problem.Field, problem.Severity));
    }

    [Fact]
    public void Repeated_balloons_are_numbered_in_the_order_of_the_rows_and_that_is_said()
    {
        var matched = Match("balloon,value,unit\n" + string.Concat(Enumerable.Range(1, 10).Select(i => $"12,13.{50 + i},mm\n")), OnePiece);
        Assert.Equal(Enumerable.Range(1, 10).Select(i => (i, 13.5m + i / 100m)), matched.Values.Select(value => (value.Instance, value.Value!.Value)));
        Assert.Equal((2, Severity.Warn), Assert.Single(matched.Problems.Select(problem => (problem.Row!.Value, problem.Severity))));

        var oneMore = Match("balloon,value,unit\n" + string.Concat(Enumerable.Repeat("12,13.6,mm\n", 11)), OnePiece);
        Assert.Contains(oneMore.Problems, problem => problem.Row == 12 && problem.Severity == Severity.Refuse);
    }

    [Fact]
    public void A_value_without_a_unit_is_read_in_the_drawings_and_that_is_said_once()
    {
        var matched = Match("balloon,value\n1,120\n2,45.2\n", OnePiece);
        Assert.Equal([120m, 162720m], matched.Values.Select(value => value.Value!.Value));
        Assert.Equal(("unit", Severity.Warn), Assert.Single(matched.Problems.Select(problem => (problem.Field, problem.Severity))));
    }

    [Fact]
    public void A_unit_said_of_the_whole_file_counts_for_values_of_its_kind_only()
    {
        // 1 in = 25.4 mm exactly (international yard and pound agreement of 1959); 1° is 3600 seconds of arc.
        var matched = Match("Unit,in\nballoon,value,U (mil)\n1,4.72,2\n2,45°10',0.1\n12.1,13.6 mm,\n20,go,\n", OnePiece);
        Assert.Empty(matched.Problems);
        Assert.Equal([119.888m, 162600m, 13.6m, 1m], matched.Values.Select(value => value.Value!.Value));
        Assert.Equal([0.0508m, 360m, null, null], matched.Values.Select(value => value.ExpandedUncertainty));
        Assert.Equal([Unit.Inch, Unit.DegreeMinuteSecond, Unit.Millimetre], matched.Values.Take(3).Select(value => value.Unit));
    }

    [Fact]
    public void Minutes_alone_are_an_angle_where_an_angle_is_asked_for() =>
        Assert.Equal(1500m, Assert.Single(Match("balloon,value\n2,25'\n", OnePiece).Values).Value);

    [Fact]
    public void What_this_stage_does_not_ask_for_is_passed_over_with_a_word()
    {
        var matched = Match("balloon,value,unit\n1,120,mm\n7,12.05,mm\n21,deburred all round,\n", OnePiece);
        Assert.True(matched.MaySubmit);
        Assert.Equal(120m, Assert.Single(matched.Values).Value);
        Assert.Equal([(3, Severity.Warn), (4, Severity.Warn)], matched.Problems.Select(problem => (problem.Row!.Value, problem.Severity)));
        Assert.All(matched.Problems, problem => Assert.Contains("is not asked for at stage “tack”", problem.Message, StringComparison.Ordinal));

        // Of a number that is on no drawing it is said so.
        var nothing = Match("balloon,value,unit\n7,12.05,mm\n", OnePiece);
        Assert.False(nothing.MaySubmit);
        Assert.Contains(nothing.Problems, problem => problem.Message.Contains("nothing that is asked for", StringComparison.Ordinal));
        Assert.Contains("is not on revision B", Assert.Single(Match("balloon,value,unit\n8,12.05,mm\n", OnePiece).Problems).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Where_all_pieces_are_over_none_is_offered() => Assert.EndsWith(
        "Expected: none.",
        Assert.Single(Match("serial,balloon,value,unit\nXX-9,1,120,mm\n", Bracket with { Pieces = [.. Bracket.Pieces.Select(piece => piece with { IsOver = true })] }).Problems).Message,
        StringComparison.Ordinal);

    /// <summary>Whether the drawing has such a balloon is not told.</summary>
    [Fact]
    public void Who_sees_some_balloons_only_is_told_that_another_is_not_asked_of_him()
    {
        var matched = Match("balloon,value,unit\n1,120,mm\n8,12.05,mm\n8,12.06,mm\n", OnePiece with { Partial = true });
        Assert.True(matched.MaySubmit);
        var said = Assert.Single(matched.Problems);
        Assert.Equal((3, Severity.Warn, "Balloon 8 is not asked of you at stage “tack”; its values are passed over."), (said.Row, said.Severity, said.Message));
        Assert.False(Match("balloon,value,unit\n8,12.05,mm\n", OnePiece with { Partial = true }).MaySubmit);
    }

    [Fact]
    public void Ten_thousand_values_are_parsed_and_matched_quickly_and_with_little_memory()
    {
        var expectation = new Expectation("P", "A", "tack",
            [.. Enumerable.Range(1, 100).Select(balloon => Expect(balloon, "10× 120 ±0.3"))],
            [.. Enumerable.Range(1, 10).Select(i => new ExpectedPiece(Guid.NewGuid(), $"P-{i:000}"))]);
        var text = new StringBuilder("serial,balloon,value,unit,uncertainty,instrument,note\n");
        foreach (var piece in expectation.Pieces)
        {
            for (var i = 0; i < 1000; i++)
                text.Append(CultureInfo.InvariantCulture, $"{piece.Serial},{i / 10 + 1}.{i % 10 + 1},{119.8m + i * 0.0004m},mm,0.02,caliper 7,\n");
        }

        var bytes = Encoding.UTF8.GetBytes(text.ToString());
        Matched matched = null!;
        void Run()
        {
            using var stream = new MemoryStream(bytes);
            matched = Matching.Of(MeasurementFile.Read(stream, "many.csv"), expectation);
        }

        for (var warm = 0; warm < 5; warm++)
            Run();
        var best = TimeSpan.MaxValue;
        for (var i = 0; i < 10; i++)
        {
            var started = Stopwatch.GetTimestamp();
            Run();
            best = TimeSpan.FromTicks(Math.Min(best.Ticks, Stopwatch.GetElapsedTime(started).Ticks));
        }

        var allocated = HostileFilesTests.Allocated(Run);
        output.WriteLine($"10,000 values: {best.TotalMilliseconds:0.0} ms at best, {allocated / 1024.0 / 1024:0.0} MB allocated");
        Assert.Equal(10_000, matched.Values.Count);
        Assert.Empty(matched.Problems);
        Assert.Empty(matched.Missing);
        Assert.InRange(allocated, 1, 20 * 1024 * 1024);
        // Tens of milliseconds on a quiet machine; the bound is for one that is busy with other tests.
        Assert.InRange(best.TotalMilliseconds, 0, 1000);
    }

    // 120 / 25.4 = 4.7244 and 120 · 25.4 = 3048 (1 in is 25.4 mm exactly).
    [Theory]
    [InlineData("4.724", "in inches")]
    [InlineData("3048", "in millimetres")]
    [InlineData("1200", "one place to the left")]
    [InlineData("12", "one place to the right")]
    [InlineData("12000", "two places to the left")]
    [InlineData("1.2", "two places to the right")]
    [InlineData("120000", "three places to the left")]
    [InlineData("0.12", "three places to the right")]
    [InlineData("-120.1", "with the other sign")]
    public void A_slip_of_the_unit_or_of_the_decimal_mark_is_named(string value, string meant) =>
        Assert.Contains(Match($"balloon,value,unit\n1,{value},mm\n", OnePiece).Problems, problem => problem.Row == 2 && problem.Message.Contains(meant, StringComparison.Ordinal));

    [Fact]
    public void What_is_never_below_zero_is_refused_below_it()
    {
        var diameter = OnePiece with { Characteristics = [OnePiece.Characteristics[3] with { NeverNegative = true }] };
        var matched = Match("balloon,value,unit\n12.1,-13.6,mm\n12.2,13.6,mm\n", diameter);
        Assert.Equal((2, "value"), (Assert.Single(matched.Problems, problem => problem.Severity == Severity.Refuse).Row, matched.Problems.First(problem => problem.Severity == Severity.Refuse).Field));
        Assert.Single(matched.Values);
    }

    // 4.724 in are 119.9896 mm, 0.002 in 0.0508 mm.
    [Theory]
    [InlineData("balloon,value\n1,4.724 ±.002 in\n")]
    [InlineData("balloon,value,unit\n1,4.724 ±.002,in\n")]
    [InlineData("balloon,value,uncertainty\n1,4.724 in,.002\n")]
    public void In_a_file_too_a_value_and_its_uncertainty_share_their_unit(string text)
    {
        var value = Assert.Single(Match(text, OnePiece).Values);
        Assert.Equal((119.9896m, 0.0508m), (value.Value, value.ExpandedUncertainty));
    }

    [Theory]
    [InlineData("RH-140-002")]
    [InlineData("140-002")]
    [InlineData("002")]
    [InlineData("2")]
    public void A_serial_is_known_by_its_end(string serial) =>
        Assert.Equal("RH-140-002", Assert.Single(Match($"serial,balloon,value,unit\n{serial},1,120,mm\n", Bracket).Values).Piece.Serial);

    [Theory]
    [InlineData("40-002")]
    [InlineData("3")]
    [InlineData("X-RH-140-002")]
    public void What_is_no_end_of_a_serial_is_refused(string serial) =>
        Assert.Contains(Match($"serial,balloon,value,unit\n{serial},1,120,mm\n", Bracket).Problems, problem => problem.Field == "serial" && problem.Severity == Severity.Refuse);

    private static Matched Match(string text, Expectation expectation) => Matching.Of(MeasurementFileTests.Read(text), expectation);
}
