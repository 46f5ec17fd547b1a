using System.Text;
using FabLink.Portal.Features.Drawings.Import;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class CharacteristicImportTests
{
    private static readonly CharacteristicImport.TitleBlock Title = new("RH-1", "B", "mm", "ISO 2768-m");

    [Theory]
    // The same hole, written in the ways that drawing offices use.
    [InlineData("balloon,kind,requirement,stages\n7,diameter,Ø13.5 +0.3/0,tack\n")]
    [InlineData("balloon,kind,nominal,plus,minus,stages\n7,diameter,13.5,0.3,0,tack\n")]
    [InlineData("balloon;kind;nominal;upper tol;lower tol;stages\n7;diameter;13,5;+0,3;;tack\n")]
    [InlineData("balloon,kind,nominal,lower limit,upper limit,stages\n7,diameter,13.5,13.5,13.8,tack\n")]
    [InlineData("balloon,kind,nominal,plus,minus,lower limit,upper limit,stages\n7,diameter,13.5,0.3,0,13.5,13.8,tack\n")]
    [InlineData("No.\tType\tLSL\tUSL\tChecked at\n7\tdiameter\t13.5\t13.8\ttack\n")]
    public void A_requirement_is_read_from_one_column_or_several(string text)
    {
        var import = Read(text);
        Assert.Empty(import.Problems);
        var kept = Assert.Single(import.Rows).Characteristic!;
        Assert.Equal((7, "diameter", 13.5m, 13.8m), (kept.Balloon, kept.Kind, kept.LowerLimit!.Value, kept.UpperLimit!.Value));
        Assert.StartsWith("Ø", kept.Requirement, StringComparison.Ordinal);
    }

    [Fact]
    public void A_balloon_that_stands_twice_names_both_rows_as_the_file_counts_them()
    {
        var problem = Assert.Single(Read("Revision;B\nballoon;requirement;stages\n1;12 ±0.1;tack\n\n2;13 ±0.1;tack\n2;14 ±0.1;tack\n").Problems);
        Assert.Equal(6, problem.Row);
        Assert.StartsWith("Balloon 2 stands in row 5 already", problem.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("12,,,0.1,,", 11.9, 12.1)]
    [InlineData("12,,,±0.1,,", 11.9, 12.1)]
    [InlineData("12,0.2,0.1,,,", 11.9, 12.2)]
    [InlineData("12,+0.2,+0.1,,,", 12.1, 12.2)]
    [InlineData("12,,-0.1,,,", 11.9, 12.0)]
    // ISO 286-1:2010, H7 over 10 to 18 mm: 0 to +18 µm.
    [InlineData("12,,,H7,,", 12.0, 12.018)]
    // ISO 2768-1:1989 Table 1, class m, over 6 to 30 mm: ±0.2 mm.
    [InlineData("12,,,,,", 11.8, 12.2)]
    [InlineData(",,,,,0.5", null, 0.5)]
    [InlineData(",,,,3,", 3.0, null)]
    public void Deviations_limits_classes_and_nothing_at_all_mean_what_they_mean_on_a_drawing(string cells, double? lower, double? upper)
    {
        var import = Read($"balloon,nominal,plus,minus,tolerance,lower,upper,stages\n1,{cells},tack\n");
        Assert.Empty(import.Problems);
        var kept = Assert.Single(import.Rows).Characteristic!;
        Assert.Equal(((decimal?)lower, (decimal?)upper), (kept.LowerLimit, kept.UpperLimit));
    }

    [Fact]
    public void Text_copied_from_a_spreadsheet_fills_every_field()
    {
        var import = CharacteristicImport.ReadPasted(
            "Balloon\tName\tRequirement\tDatums\tClass\tStages\tApplies\tRule\n12\tbolt holes\t10× Ø13.5 +0.3/0\tA B\tcritical\tas welded, receiving\tafter coating\tguarded\n", Title);
        Assert.Empty(import.Problems);
        var kept = Assert.Single(import.Rows).Characteristic!;
        Assert.Equal(("bolt holes", 10, "A B", "critical", "after coating", "guarded"), (kept.Name, kept.Count, kept.Datums, kept.Class, kept.Applies, kept.Rule));
        Assert.Equal(["as welded", "receiving"], kept.Stages);
    }

    [Theory]
    [InlineData("balloon,requirement,stages\n1,12 ±0.1,tack\n2,12 ±,tack\n", 3, "requirement")]
    [InlineData("balloon,requirement,stages\nx,12 ±0.1,tack\n", 2, "balloon")]
    [InlineData("balloon,requirement,stages\n1,12 ±0.1,lunch\n", 2, "stages")]
    [InlineData("balloon,requirement,stages\n1,12 ±0.1,tack\n\n1,13 ±0.1,tack\n", 4, "balloon")]
    [InlineData("balloon,requirement,class,stages\n1,12 ±0.1,vital,tack\n", 2, "class")]
    [InlineData("balloon,requirement,stages\n1,2026-03-04,tack\n", 2, "requirement")]
    [InlineData("Revision,C\nballoon,requirement,stages\n1,12 ±0.1,tack\n", 1, "revision")]
    [InlineData("Part,RH-2\nballoon,requirement,stages\n1,12 ±0.1,tack\n", 1, "part")]
    [InlineData("balloon,requirement,callout,stages\n1,12 ±0.1,,tack\n", 1, "requirement")]
    [InlineData("balloon,requirement,stages\n", null, "")]
    [InlineData("one,two\n1,2\n", null, "")]
    public void A_fault_names_its_row_and_field_and_leaves_the_other_rows(string text, int? row, string field)
    {
        var import = Read(text);
        var problem = Assert.Single(import.Problems);
        Assert.Equal((row, field, Severity.Refuse), (problem.Row, problem.Field, problem.Severity));
        Assert.True(import.IsRefused);
        Assert.All(import.Rows, line => Assert.Equal(line.Row == row && row != 1, line.Characteristic is null));
    }

    [Fact]
    public void Numbers_beside_a_requirement_are_warned_about_and_not_used()
    {
        var import = Read("balloon,requirement,nominal,stages\n1,12 ±0.1,13,tack\n");
        Assert.Equal((2, Severity.Warn), Assert.Single(import.Problems.Select(problem => (problem.Row!.Value, problem.Severity))));
        Assert.Equal(12m, import.Rows[0].Characteristic!.Nominal);
    }

    [Fact]
    public void The_unit_above_the_table_counts_for_bare_numbers()
    {
        var import = Read("Unit,in\nballoon,kind,requirement,stages\n1,length,1 ±0.01,tack\n2,angle,45 ±1,tack\n");
        Assert.Empty(import.Problems);
        // 1 in = 25.4 mm exactly (international yard and pound agreement of 1959); 1° = 3600″.
        Assert.Equal([25.4m, 162000m], import.Rows.Select(line => line.Characteristic!.Nominal!.Value));
    }

    [Fact]
    public void Another_general_tolerance_than_the_revisions_is_mentioned()
    {
        var problem = Assert.Single(Read("General tolerance,ISO 2768-f\nballoon,requirement,stages\n1,12,tack\n").Problems);
        Assert.Equal((1, "general", Severity.Warn), (problem.Row, problem.Field, problem.Severity));
    }

    [Theory]
    [InlineData("balloon,nominal,upper tol,lower tol,lower limit,upper limit,stages\n1,400,0.5,0.5,399,402,tack\n", "The deviations make 399.5 to 400.5, and the limits say 399 to 402.")]
    [InlineData("balloon,nominal,tolerance,upper limit,stages\n1,400,±0.5,401,tack\n", "The deviations make 399.5 to 400.5, and the limits say nothing to 401.")]
    public void Deviations_and_limits_that_contradict_each_other_are_refused_together(string text, string why)
    {
        var import = Read(text);
        Assert.Null(Assert.Single(import.Rows).Characteristic);
        Assert.Contains(import.Problems, problem => problem.Row == 2 && problem.Message.StartsWith(why, StringComparison.Ordinal));
    }

    private static CharacteristicImport Read(string text)
    {
        using var stream = new MemoryStream(Encoding.UTF8.GetBytes(text));
        return CharacteristicImport.Read(stream, "characteristics.csv", Title);
    }
}
