using System.Text;
using DocumentFormat.OpenXml.Packaging;
using DocumentFormat.OpenXml.Validation;
using FabLink.Engineering.Judging;
using FabLink.Engineering.Tolerances;
using FabLink.Portal.Features.Drawings;
using FabLink.Portal.Features.Drawings.Import;
using FabLink.Portal.Features.Reports.Import;
using FabLink.Portal.Platform.Tables;

namespace FabLink.Portal.Tests.Import;

public class SampleDataTests
{
    public static TheoryData<string> Parts => new("RH-110", "RH-120", "RH-121", "RH-130", "RH-140", "RH-150");

    private static string Folder => Path.Combine(OutsideFiles.Repository, "sample-data");

    [Theory]
    [MemberData(nameof(Parts))]
    public void Every_table_of_characteristics_is_taken_over_without_a_word(string part)
    {
        var import = Characteristics(part);
        Assert.Empty(import.Problems);
        Assert.Empty(import.IgnoredColumns);
        Assert.All(import.Rows, line => Assert.NotNull(line.Characteristic));
        Assert.Contains(import.Rows, line => line.Characteristic!.Class == "critical");
    }

    // What each report comes to, and which values decide it; sample-data/README.md says the same in words.
    public static TheoryData<string, string, string, int, string> Reports => new()
    {
        { "RH-110-001-as-welded.csv", "RH-110", "as welded", 1, "Conforms" },
        { "RH-110-001-tack.csv", "RH-110", "tack", 1, "Conforms" },
        { "RH-110-001-tack-corrected.csv", "RH-110", "tack", 1, "ConformsInPart" },
        { "RH-120-001-tack.csv", "RH-120", "tack", 1, "DoesNotConform RH-120-001 2" },
        { "RH-120-001-tack-corrected.csv", "RH-120", "tack", 1, "Conforms" },
        { "RH-121-001-tack-inch.csv", "RH-121", "tack", 1, "Conforms" },
        { "RH-130-001-tack.xlsx", "RH-130", "tack", 1, "Conforms" },
        { "RH-130-001-as-welded-comma.csv", "RH-130", "as welded", 1, "DoesNotConform RH-130-001 4" },
        { "RH-140-tack.xlsx", "RH-140", "tack", 4, "Conforms" },
        { "RH-140-before-coat-comma.csv", "RH-140", "before coat", 4, "DoesNotConform RH-140-003 3.2" },
        { "RH-150-001-as-machined-inch.csv", "RH-150", "as machined", 1, "NotProven RH-150-001 2" },
    };

    [Theory]
    [MemberData(nameof(Reports))]
    public void Every_measurement_file_is_complete_and_comes_to_what_its_page_says(string file, string part, string stage, int pieces, string expected)
    {
        var matched = Match(file, part, stage, pieces);
        Assert.Empty(matched.Problems);
        // A later report may bring only what was changed.
        Assert.Equal(expected == "ConformsInPart", matched.Missing.Count > 0);
        Assert.Empty(matched.Untouched);

        var rules = Characteristics(part).Rows.ToDictionary(line => line.Characteristic!.Balloon, line => line.Characteristic!.Rule);
        var findings = matched.Values
            .Where(value => value.Characteristic.Form == AnswerForm.Number)
            .Select(value => (value, Judge.Value(value.Characteristic.Limits, value.Value!.Value, value.ExpandedUncertainty,
                rules[value.Characteristic.Balloon] == "guarded" ? JudgingRule.Guarded : JudgingRule.Simple).Verdict))
            .Where(judged => judged.Verdict != Verdict.Conforms)
            .Select(judged => $"{judged.Verdict} {judged.value.Piece.Serial} {judged.value.Source.BalloonText}")
            .ToList();
        Assert.Equal(expected is "Conforms" or "ConformsInPart" ? [] : [expected], findings);
    }

    [Fact]
    public void Every_measurement_file_is_listed_here_and_on_the_page()
    {
        var files = Directory.EnumerateFiles(Path.Combine(Folder, "measurements")).Select(Path.GetFileName).Order().ToList();
        Assert.Equal(Reports.Select(row => row.Data.Item1).Order(), files);
        var page = File.ReadAllText(Path.Combine(Folder, "README.md"));
        Assert.All(Directory.EnumerateFiles(Folder, "*", SearchOption.AllDirectories).Select(Path.GetFileName).Where(name => name != "README.md"),
            name => Assert.Contains(name!, page, StringComparison.Ordinal));
    }

    [Fact]
    public void The_arm_was_off_by_a_degree_and_a_tenth_and_the_pair_agrees_once_corrected()
    {
        decimal Angle(string file, string part) => Match(file, part, "tack", 1).Values.Single(value => value.Characteristic.Balloon == 2).Value!.Value / 3600;
        Assert.Equal(31.1m, Angle("RH-120-001-tack.csv", "RH-120"));
        var apart = Math.Abs(Angle("RH-120-001-tack-corrected.csv", "RH-120") - Angle("RH-121-001-tack-inch.csv", "RH-121"));
        Assert.InRange(apart, 0, 0.5m);
    }

    [Fact]
    public void The_critical_dimension_is_out_by_five_hundredths()
    {
        var value = Match("RH-130-001-as-welded-comma.csv", "RH-130", "as welded", 1).Values.Single(found => found.Characteristic.Balloon == 4);
        Assert.Equal(0.05m, value.Value - value.Characteristic.Limits.Upper);
    }

    [Fact]
    public void The_workbooks_are_what_their_generator_writes()
    {
        foreach (var (name, rows) in SampleWorkbooks.All)
        {
            var path = Path.Combine(Folder, "measurements", name);
            var written = SampleWorkbooks.Write(rows);
            if (Environment.GetEnvironmentVariable("FABLINK_WRITE_SAMPLES") == "1")
                File.WriteAllBytes(path, written);
            Assert.Equal(written, File.ReadAllBytes(path));

            using var stream = new MemoryStream(written);
            using var document = SpreadsheetDocument.Open(stream, isEditable: false);
            Assert.Empty(new OpenXmlValidator().Validate(document, TestContext.Current.CancellationToken));
        }
    }

    [Fact]
    public void The_drawing_files_are_what_their_names_say()
    {
        string Start(string name) => Encoding.ASCII.GetString(File.ReadAllBytes(Path.Combine(Folder, "drawings", name)).AsSpan(0, 14));
        Assert.StartsWith("%PDF-1.", Start("RH-150-A.pdf"), StringComparison.Ordinal);
        Assert.StartsWith("%PDF-1.", Start("RH-110-A.pdf"), StringComparison.Ordinal);
        Assert.StartsWith("ISO-10303-21;", Start("RH-150-A.step"), StringComparison.Ordinal);
        Assert.StartsWith("0\nSECTION\n", Start("RH-150-A.dxf").ReplaceLineEndings("\n"), StringComparison.Ordinal);
    }

    private static CharacteristicImport Characteristics(string part)
    {
        using var stream = File.OpenRead(Path.Combine(Folder, "drawings", $"{part}-A-characteristics.csv"));
        var general = part == "RH-150" ? "ISO 2768-m" : "ISO 13920-BF";
        return CharacteristicImport.Read(stream, $"{part}.csv", new CharacteristicImport.TitleBlock(part, "A", "mm", general));
    }

    private static Matched Match(string file, string part, string stage, int pieces)
    {
        using var stream = File.OpenRead(Path.Combine(Folder, "measurements", file));
        return Matching.Of(MeasurementFile.Read(stream, file), new Expectation(part, "A", stage,
            [.. Characteristics(part).Rows.Select(line => Expected(line.Characteristic!, stage))],
            [.. Enumerable.Range(1, pieces).Select(i => new ExpectedPiece(Guid.NewGuid(), $"{part}-{i:000}"))]));
    }

    private static ExpectedCharacteristic Expected(Characteristic kept, string stage) => new(
        Guid.NewGuid(), kept.Balloon, kept.Count, CharacteristicWords.ToUnit(kept.Unit), kept.Requirement, kept.Nominal,
        new Limits(kept.LowerLimit, kept.UpperLimit), kept.Stages.Contains(stage),
        kept.Kind switch { "attribute" => AnswerForm.GoNoGo, "text" => AnswerForm.YesOrNo, _ => AnswerForm.Number });
}
