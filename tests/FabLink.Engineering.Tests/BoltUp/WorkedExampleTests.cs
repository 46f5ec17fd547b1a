using System.Text.Json;
using FabLink.Engineering.BoltUp;

namespace FabLink.Engineering.Tests.BoltUp;

public class WorkedExampleTests
{
    [Fact]
    public void The_example_in_the_documentation_is_answered_as_it_says()
    {
        var blocks = Page().Split("```json").Skip(1).Select(block => block.Split("```")[0]).ToArray();
        Assert.Equal(2, blocks.Length);
        var request = JsonSerializer.Deserialize<BoltUpRequest>(blocks[0], JsonSerializerOptions.Web)!;
        using var expected = JsonDocument.Parse(blocks[1]);
        using var actual = JsonDocument.Parse(JsonSerializer.Serialize(BoltUpCalculation.Answer(request), JsonSerializerOptions.Web));
        Compare(expected.RootElement, actual.RootElement, "answer");
    }

    /// <summary>What the page shows must be in the answer; the page may leave fields out.</summary>
    private static void Compare(JsonElement expected, JsonElement actual, string path)
    {
        Assert.True(expected.ValueKind == actual.ValueKind, $"{path} is {actual.ValueKind}");
        switch (expected.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var property in expected.EnumerateObject())
                    Compare(property.Value, actual.GetProperty(property.Name), $"{path}/{property.Name}");
                break;
            case JsonValueKind.Array:
                Assert.Equal(expected.GetArrayLength(), actual.GetArrayLength());
                for (var i = 0; i < expected.GetArrayLength(); i++)
                    Compare(expected[i], actual[i], $"{path}/{i}");
                break;
            case JsonValueKind.Number:
                Assert.True(Math.Abs(expected.GetDouble() - actual.GetDouble()) <= 1e-6, $"{path} is {actual.GetDouble()}");
                break;
            case JsonValueKind.String:
                Assert.Equal(expected.GetString(), actual.GetString());
                break;
        }
    }

    private static string Page()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            var page = Path.Combine(folder.FullName, "docs", "calculations", "bolt-up.md");
            if (File.Exists(page))
                return File.ReadAllText(page);
        }

        throw new FileNotFoundException("docs/calculations/bolt-up.md is not above the tests.");
    }
}
