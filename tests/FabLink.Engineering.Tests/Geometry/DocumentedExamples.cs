using System.Text.Json;
using System.Text.RegularExpressions;

namespace FabLink.Engineering.Tests.Geometry;

/// <summary>Runs the questions written in a page of docs/calculations and compares the answers with those written below them.</summary>
internal static partial class DocumentedExamples
{
    /// <summary>Checks every example of the page and returns how many there were.</summary>
    public static int Check(string page, Func<string, string, object> run)
    {
        var examples = Example().Matches(File.ReadAllText(Path.Combine(Root(), "docs", "calculations", page)));
        foreach (Match example in examples)
        {
            var answer = JsonSerializer.SerializeToElement(
                run(example.Groups["name"].Value, example.Groups["question"].Value), JsonSerializerOptions.Web);
            using var written = JsonDocument.Parse(example.Groups["answer"].Value);
            Compare(written.RootElement, answer, example.Groups["name"].Value);
        }
        return examples.Count;
    }

    [GeneratedRegex("```json question (?<name>[a-z-]+)\n(?<question>.*?)```\\s*```json answer\n(?<answer>.*?)```", RegexOptions.Singleline)]
    private static partial Regex Example();

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "FabLink.sln")))
            folder = folder.Parent;
        return folder?.FullName ?? throw new DirectoryNotFoundException("The folder of FabLink.sln was not found above the tests.");
    }

    private static void Compare(JsonElement written, JsonElement answer, string at)
    {
        switch (written.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var field in written.EnumerateObject())
                {
                    Assert.True(answer.TryGetProperty(field.Name, out var found), $"{at}/{field.Name} is not in the answer");
                    Compare(field.Value, found, $"{at}/{field.Name}");
                }
                break;
            case JsonValueKind.Array:
                Assert.Equal(written.GetArrayLength(), answer.GetArrayLength());
                for (var i = 0; i < written.GetArrayLength(); i++)
                    Compare(written[i], answer[i], $"{at}/{i}");
                break;
            case JsonValueKind.Number:
                Assert.True(Math.Abs(written.GetDouble() - answer.GetDouble()) <= 6e-7, $"{at}: {written} is written, {answer} computed");
                break;
            default:
                Assert.True(written.ValueKind == answer.ValueKind && written.ToString() == answer.ToString(), $"{at}: {written} is written, {answer} computed");
                break;
        }
    }
}
