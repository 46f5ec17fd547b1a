using System.Text;
using System.Text.Json;
using FabLink.Engineering.Quantities;
using FabLink.Portal.Features.Reports.Import;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class MeasurementFileTests
{
    [Theory]
    [InlineData("balloon,value,unit,uncertainty,instrument,note,serial\n12.3,13.52,mm,0.02,caliper 7,ok here,RH-1\n")]
    [InlineData("Serial No;Remark;Gauge;U;Unit;Actual;Item\nRH-1;ok here;caliper 7;0,02;mm;13,52;12.3\n")]
    [InlineData("#\tMeasured [mm]\tUncertainty\tInstrument\tNotes\tPiece\n12,3\t13.52\t±0.02\tcaliper 7\tok here\tRH-1\n")]
    [InlineData("Inspection of today\nInstrument: caliper 7\nUnit,mm\nSerial,RH-1\n\nNo.,Instance,Result,MU,U,Comment\n(12),3,13.52,x,0.02 mm,ok here\n")]
    public void The_same_row_is_read_from_every_layout(string text)
    {
        var file = Read(text);
        Assert.DoesNotContain(file.Problems, problem => problem.Severity == Severity.Refuse);
        var row = Assert.Single(file.Rows);
        Assert.Equal((12, 3, 13.52m, Unit.Millimetre, 0.02m), (row.Balloon, row.Instance, row.Number, row.Unit ?? file.Unit, row.Uncertainty));
        Assert.Equal(("caliper 7", "ok here", "RH-1"), (row.Instrument, row.Note, row.Serial));
    }

    [Theory]
    [InlineData("12.5", "mm", 12.5, Unit.Millimetre)]
    [InlineData("12,5 mm", "", 12.5, Unit.Millimetre)]
    [InlineData(".492\"", "", 0.492, Unit.Inch)]
    [InlineData("0.492 in", "inch", 0.492, Unit.Inch)]
    [InlineData("45.5", "deg", 45.5, Unit.Degree)]
    [InlineData("75 µm", "", 75, Unit.Micrometre)]
    [InlineData("12.", "", 12, null)]
    public void A_value_may_carry_its_unit(string value, string unit, double number, Unit? expected)
    {
        var row = Assert.Single(Read($"balloon\tvalue\tunit\n1\t{value}\t{unit}\n").Rows);
        Assert.Equal(((decimal)number, expected, false), (row.Number!.Value, row.Unit, row.IsArcSeconds));
    }

    [Theory]
    // 1° is 3600 seconds of arc, 1' is 60.
    [InlineData("45°15'", "", 162900)]
    [InlineData("0°30'", "deg", 1800)]
    [InlineData("20'", "dms", 1200)]
    [InlineData("93°06'12\"", "", 335172)]
    public void Degrees_minutes_and_seconds_are_exact_seconds_of_arc(string value, string unit, int seconds)
    {
        var row = Assert.Single(Read($"balloon;value;unit\n1;{value};{unit}\n").Rows);
        Assert.Equal(((decimal)seconds, true), (row.Number!.Value, row.IsArcSeconds));
    }

    [Theory]
    [InlineData("go", true)]
    [InlineData("No go", false)]
    [InlineData("OK", true)]
    [InlineData("n.ok", null)]
    [InlineData("fail", false)]
    [InlineData("perhaps", null)]
    public void Go_and_no_go_are_understood(string value, bool? go)
    {
        var row = Assert.Single(Read($"balloon,value\n1,{value}\n").Rows);
        Assert.Equal((go, null, value), (row.Go, row.Number, row.Typed));
    }

    [Theory]
    [InlineData("balloon,value\n12-Mar,5\n", 2, "balloon", "is a date")]
    [InlineData("balloon,value\n1,03.04.2026\n", 2, "value", "is a date")]
    [InlineData("balloon,value\n1,2026-04-03\n", 2, "value", "is a date")]
    [InlineData("balloon,value\nhole,5\n", 2, "balloon", "not a balloon")]
    [InlineData("balloon,value\n1.0,5\n", 2, "balloon", "not a balloon")]
    [InlineData("balloon,value\n,5\n", 2, "balloon", "no balloon")]
    [InlineData("balloon,value,unit\n1,5,parsec\n", 2, "unit", "not a unit")]
    [InlineData("balloon,value,unit\n1,5 in,mm\n", 2, "unit", "The value says in")]
    [InlineData("balloon,value,uncertainty\n1,5,-0.1\n", 2, "uncertainty", "never negative")]
    [InlineData("balloon,value,uncertainty\n1,5,about\n", 2, "uncertainty", "not a number")]
    [InlineData("balloon,value,instance\n1.2,5,3\n", 2, "instance", "Leave one")]
    [InlineData("balloon,value,instance\n1,5,first\n", 2, "instance", "whole number")]
    [InlineData("balloon,value,unit\n1,5,02,mm\n", 2, "", "more cells than there are headings")]
    [InlineData("balloon,value,actual\n1,5,6\n", 1, "value", "Two columns")]
    [InlineData("balloon,value\n", null, "", "no values below")]
    [InlineData("something,else\n1,2\n", null, "", "No row of headings")]
    [InlineData("", null, "", "empty")]
    [InlineData("Unit,cubit\nballoon,value\n1,5\n", 1, "unit", "not a unit")]
    public void A_fault_is_refused_with_its_row_field_and_what_to_do(string text, int? row, string field, string because)
    {
        var file = Read(text);
        var problem = Assert.Single(file.Problems, found => found.Severity == Severity.Refuse);
        Assert.Equal((row, field, "values.csv"), (problem.Row, problem.Field, problem.File));
        Assert.Contains(because, problem.Message, StringComparison.Ordinal);
        Assert.True(file.IsRefused);
    }

    [Theory]
    [InlineData("-")]
    [InlineData("none")]
    public void A_dash_for_a_unit_is_no_unit_and_no_fault(string unit)
    {
        var file = Read($"balloon,value,unit\n1,go,{unit}\n");
        Assert.Empty(file.Problems);
        Assert.Null(Assert.Single(file.Rows).Unit);
    }

    [Fact]
    public void Pasted_text_is_read_like_a_file() =>
        Assert.Equal(12.5m, Assert.Single(MeasurementFile.ReadPasted("Item\tActual\n1\t12,5\n").Rows).Number);

    [Fact]
    public void A_faulty_row_does_not_hide_the_good_ones()
    {
        var file = Read("balloon,value\n1,5\nx,6\n3,7\n");
        Assert.Equal([1, 3], file.Rows.Select(row => row.Balloon));
        Assert.Single(file.Problems);
    }

    [Fact]
    public void Blank_rows_and_balloons_without_a_value_are_mentioned_and_do_not_hinder()
    {
        var file = Read("balloon,value,note\n1,5,\n\n,,a remark of its own\n2,,\nInspected by hand,,\n3,7,\n");
        Assert.False(file.IsRefused);
        Assert.Equal([1, 3], file.Rows.Select(row => row.Balloon));
        Assert.Equal([3, 5, 6], file.Problems.Select(problem => problem.Row));
    }

    [Fact]
    public void Revision_part_and_stage_are_taken_from_above_the_table_and_from_columns()
    {
        var file = Read("Part,RH-110\nStage: as welded\nballoon,value,rev\n1,5,A\n2,6,a\n3,7,B\n");
        Assert.Equal([new("A", 4), new("B", 6)], file.Revisions);
        Assert.Equal([new("RH-110", 1)], file.Parts);
        Assert.Equal([new("as welded", 2)], file.Stages);
    }

    [Fact]
    public void Columns_that_mean_nothing_here_are_listed_and_left_alone() =>
        Assert.Equal(["Nominal", "Deviation"], Read("balloon,Nominal,value,Deviation\n1,5,5.1,0.1\n").IgnoredColumns);

    [Fact]
    public void A_formula_is_no_measured_value_but_may_be_a_note()
    {
        Cell number = new("1", CellKind.Number);
        var sheet = new Sheet("m.xlsx", "One",
        [
            new SheetRow(1, [new("balloon", CellKind.Text), new("value", CellKind.Text), new("note", CellKind.Text)]),
            new SheetRow(2, [number, new("6.75", CellKind.Formula), Cell.Empty]),
            new SheetRow(3, [number, number, new("row 3", CellKind.Formula)]),
            new SheetRow(4, [number, new("#REF!", CellKind.Error), Cell.Empty]),
            new SheetRow(5, [new("2026-12-03", CellKind.Date), number, Cell.Empty]),
        ], []);
        var file = MeasurementFile.Read(sheet);
        Assert.Equal("row 3", Assert.Single(file.Rows).Note);
        Assert.Equal(
            [(2, "value", Severity.Refuse), (3, "note", Severity.Warn), (4, "value", Severity.Refuse), (5, "balloon", Severity.Refuse)],
            file.Problems.Select(problem => (problem.Row!.Value, problem.Field, problem.Severity)));
    }

    [Fact]
    public void Problems_are_told_up_to_a_number_that_a_person_would_read()
    {
        var file = Read("balloon,value\n" + string.Concat(Enumerable.Repeat("x,1\n", 2000)));
        Assert.Equal(TableProblems.Most + 1, file.Problems.Count);
        Assert.Contains("1500 more", file.Problems[^1].Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Naughty_strings_survive_in_the_note()
    {
        using var list = JsonDocument.Parse(File.ReadAllText(OutsideFiles.Folder("blns.json")));
        var strings = list.RootElement.EnumerateArray().Select(text => text.GetString()!).ToList();
        Assert.True(strings.Count > 400);
        var csv = new StringBuilder("balloon,value,note\n");
        foreach (var text in strings)
            csv.Append("1,5,\"").Append(text.Replace("\"", "\"\"", StringComparison.Ordinal)).Append("\"\n");

        var file = Read(csv.ToString());

        Assert.Equal(strings, file.Rows.Select(row => row.Note));
    }

    [Fact]
    public void Naughty_strings_in_every_column_end_in_a_row_or_a_problem()
    {
        using var list = JsonDocument.Parse(File.ReadAllText(OutsideFiles.Folder("blns.json")));
        foreach (var text in list.RootElement.EnumerateArray().Select(text => "\"" + text.GetString()!.Replace("\"", "\"\"", StringComparison.Ordinal) + "\""))
        {
            foreach (var row in new[] { $"{text},5,mm,0.1,a,b,c", $"1,{text},mm,0.1,a,b,c", $"1,5,{text},0.1,a,b,c", $"1,5,mm,{text},a,b,c", $"1,5,mm,0.1,{text},b,{text}" })
            {
                var file = Read("balloon,value,unit,uncertainty,instrument,note,serial\n" + row);
                Assert.True(file.Rows.Count + file.Problems.Count > 0);
            }
        }
    }

    internal static MeasurementFile Read(string text)
    {
        using var stream = new MemoryStream(Encoding.UTF8.GetBytes(text));
        return MeasurementFile.Read(stream, "values.csv");
    }
}
