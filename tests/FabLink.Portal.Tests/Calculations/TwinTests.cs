using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using FabLink.Portal.Features.Calculations;
using FabLink.Testing;

namespace FabLink.Portal.Tests.Calculations;

public sealed partial class TwinTests(OpenPortal portal) : IClassFixture<OpenPortal>
{
    private const string OneHole = """{"holes":[{"name":"1","a":{"x":0,"y":0,"diameter":13.5},"b":{"x":0.4,"y":0,"diameter":13.5},"fastener":12}]""";

    private static readonly string _page = File.ReadAllText(Repository.PathTo("docs", "api.md"));

    public static TheoryData<string> Names => [.. Calculators.All.Select(calculator => calculator.Name)];

    [Theory]
    [MemberData(nameof(Names))]
    public async Task The_example_of_the_documentation_is_answered_as_it_says(string name)
    {
        var section = _page[_page.IndexOf($"\n## {name}\n", StringComparison.Ordinal)..];
        var blocks = Fenced().Matches(section).Take(2).Select(match => match.Groups[1].Value).ToArray();
        var answer = await portal.AskAsync(name, blocks[0]);
        Holds(JsonDocument.Parse(blocks[1]).RootElement, answer, name);
        Assert.NotEmpty(answer.GetProperty("sources").EnumerateArray());
        Assert.NotEmpty(answer.GetProperty("cautions").EnumerateArray());
    }

    [Theory]
    [MemberData(nameof(Names))]
    public async Task The_example_of_the_list_is_answered(string name) =>
        Assert.NotEmpty((await portal.AskAsync(name, Calculators.Find(name)!.Example)).GetProperty("sources").EnumerateArray());

    // AIAG Measurement Systems Analysis, 4th edition (2010): figures III-B 15 and 16, tables III-B 7 and 8.
    [Theory]
    [InlineData("anova", 0.199933, 0.226838, 0.302373, 1.042327, 27.86, 4)]
    [InlineData("average-and-range", 0.20186, 0.22967, 0.30577, 1.10460, 26.68, 5)]
    public async Task The_handbooks_gauge_study(string method, double repeatability, double reproducibility, double study, double parts, double percent, int categories)
    {
        var rows = File.ReadLines(Repository.PathTo("tests", "FabLink.Engineering.Tests", "Published", "aiag-msa-figure-iii-b-15.csv")).Where(line => line[0] != '#');
        var readings = rows.Select(row => row.Split(',')).SelectMany(cells => cells.Skip(2).Select((value, part) =>
            $$"""{"part":"{{part + 1}}","person":"{{cells[0]}}","trial":{{cells[1]}},"value":{{value}}}"""));
        var answer = await portal.AskAsync("gauge-study", $$"""{"measurements":[{{string.Join(',', readings)}}],"method":"{{method}}"}""");
        Assert.Equal(repeatability, answer.GetProperty("repeatability").GetDouble(), 0.00001);
        Assert.Equal(reproducibility, answer.GetProperty("reproducibility").GetDouble(), 0.00001);
        Assert.Equal(study, answer.GetProperty("gaugeStudy").GetDouble(), 0.00001);
        Assert.Equal(parts, answer.GetProperty("partVariation").GetDouble(), 0.00001);
        Assert.Equal(percent, answer.GetProperty("percentOfTotal").GetDouble(), 0.005);
        Assert.Equal(categories, answer.GetProperty("distinctCategories").GetInt32());
    }

    // Binomial distribution, exact.
    [Fact]
    public async Task A_plan_is_looked_at_from_a_process_as_well()
    {
        var answer = await portal.AskAsync("operating-curve", """{"sampleSize":80,"accept":2,"fraction":0.01}""");
        var exact = Enumerable.Range(0, 3).Sum(k => new[] { 1.0, 80, 80 * 79 / 2.0 }[k] * Math.Pow(0.01, k) * Math.Pow(0.99, 80 - k));
        Assert.Equal(exact, answer.GetProperty("acceptanceProbability").GetDouble(), 1e-12);
    }

    [Fact]
    public async Task A_value_may_be_sent_as_a_number_and_stays_exact()
    {
        var answer = await portal.AskAsync("judge", """{"requirement":"12 ±0.1","value":12.1000000000000000001}""");
        Assert.Equal("does-not-conform", answer.GetProperty("verdict").GetString());
        Assert.Equal("0.0000000000000000001", answer.GetProperty("offBy").GetString());
    }

    [Fact]
    public async Task The_same_seed_gives_the_same_answer()
    {
        const string question = OneHole + ""","film":{"a":0.1},"samples":1000,"seed":7}""";
        var uncertain = question.Replace("\"diameter\":13.5},\"b\"", "\"diameter\":13.5,\"uncertainty\":0.9},\"b\"", StringComparison.Ordinal);
        var answers = new[] { await portal.AskAsync("bolt-up", uncertain), await portal.AskAsync("bolt-up", uncertain) };
        Assert.Equal(answers[0].GetProperty("probability").GetRawText(), answers[1].GetProperty("probability").GetRawText());
        Assert.InRange(answers[0].GetProperty("probability").GetProperty("value").GetDouble(), 0.5, 1);
    }

    [Theory]
    [InlineData("fit", "{", 400, "")]
    [InlineData("fit", "", 400, "")]
    [InlineData("fit", "[]", 400, "")]
    [InlineData("fit", "null", 422, "")]
    [InlineData("fit", "{}", 422, "/fit")]
    [InlineData("fit", """{"fit":5}""", 400, "/fit")]
    [InlineData("fit", """{"fit":"50 H7","fot":1}""", 400, "/fot")]
    [InlineData("fit", """{"fit":"50 H7","fit":"50 H8"}""", 400, "/fit")]
    [InlineData("fit", """{"fit":"50 Q7"}""", 422, "/fit")]
    [InlineData("fit", """{"fit":"5000 H7"}""", 422, "/fit")]
    [InlineData("judge", """{"requirement":"12 ~ 0.1","value":"12"}""", 422, "/requirement")]
    [InlineData("judge", """{"requirement":"12 ±0.1","value":"1O"}""", 422, "/value")]
    [InlineData("judge", """{"requirement":"12 ±0.1","value":"12","valueUnit":"°"}""", 422, "/valueUnit")]
    [InlineData("judge", """{"requirement":"12 ±0.1","value":"12","rule":"lenient"}""", 422, "/rule")]
    [InlineData("judge", """{"requirement":"12 ±0.1","value":true}""", 400, "/value")]
    [InlineData("general-tolerance", """{"standard":"ISO 2768-1","class":"m","kind":"linear","size":0.4}""", 422, "/size")]
    [InlineData("general-tolerance", """{"standard":"ISO 1","class":"m","kind":"linear","size":4}""", 422, "/standard")]
    [InlineData("position", """{"nominal":[0,0],"measured":[0],"tolerance":1}""", 422, "/measured")]
    [InlineData("position", """{"nominal":[0,0],"measured":[0,1e30],"tolerance":1}""", 400, "/measured/1")]
    [InlineData("position", """{"nominal":[0,0],"measured":[0,1],"tolerance":79000000000000000000000000000,"modifier":"M","size":{"lower":1,"upper":79000000000000000000000000000,"measured":79000000000000000000000000000,"internal":true}}""", 422, "")]
    [InlineData("feature", """{"kind":"plane","method":"least-squares","points":[[0,0,0],[1,1,1],[2,2,2]]}""", 422, "/points")]
    [InlineData("feature", """{"kind":"plane","method":"least-squares","points":[[0,0,0],[1,0]]}""", 422, "/points/1")]
    [InlineData("feature", """{"kind":"plane","method":"least-squares","points":[[0,0,0],[1,null,0]]}""", 400, "/points/1/1")]
    [InlineData("bolt-up", """{"holes":[]}""", 422, "/holes")]
    [InlineData("bolt-up", """{"holes":[{"name":"1","a":{"x":0,"y":0,"diametre":13.5}}]}""", 400, "/holes/0/a/diametre")]
    [InlineData("bolt-up", """{"holes":[{"name":"1","a":{"x":0,"y":0,"diameter":-1},"b":{"x":0,"y":0,"diameter":13.5},"fastener":12}]}""", 422, "/holes/0/a/diameter")]
    [InlineData("bolt-up", """{"holes":[{"name":"1","a":{"x":1e7,"y":0,"diameter":1},"b":{"x":0,"y":0,"diameter":13.5},"fastener":12}]}""", 422, "/holes/0/a/x")]
    [InlineData("bolt-up", OneHole + ""","samples":10}""", 422, "/samples")]
    [InlineData("bolt-up", OneHole + ""","samples":6000000}""", 422, "/samples")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":NaN}]}""", 400, "/links/0/nominal")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":"NaN"}]}""", 400, "/links/0/nominal")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":1e999}]}""", 422, "/links/0/nominal")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":1e308,"lower":-1e308,"upper":1e308},{"name":"B","nominal":1}]}""", 422, "")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":1},{"name":"A","nominal":1}]}""", 422, "/links/1/name")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":1,"lower":0.1,"upper":-0.1}]}""", 422, "/links/0/lower")]
    [InlineData("chain", """{"links":[{"name":"A","nominal":1}],"samples":10000001}""", 422, "/samples")]
    [InlineData("chain", """{"links":[null]}""", 422, "/links/0/name")]
    [InlineData("vector-loop", """{"links":[{"name":"A","length":{"nominal":1}}]}""", 422, "/links/0/direction")]
    [InlineData("reach", """{"angleDegrees":90,"reach":1}""", 422, "/angleDegrees")]
    [InlineData("sampling-plan", """{"lot":1,"aql":1}""", 422, "/lot")]
    [InlineData("sampling-plan", """{"lot":200.5,"aql":1}""", 400, "/lot")]
    [InlineData("sampling-plan", """{"lot":200,"aql":1,"importance":"critical"}""", 422, "/importance")]
    [InlineData("operating-curve", """{"accept":0,"fraction":0.1}""", 422, "/sampleSize")]
    [InlineData("gauge-study", """{"measurements":[{"part":"1","person":"A","trial":1}],"method":"anova"}""", 422, "/measurements/0/value")]
    [InlineData("gauge-study", """{"measurements":[null],"method":"anova"}""", 422, "/measurements/0")]
    [InlineData("no-such", "{}", 404, null)]
    public async Task A_refusal_points_at_its_field(string name, string question, int status, string? pointer)
    {
        var problem = await portal.RefusalAsync(name, question);
        Assert.Equal(status, problem.GetProperty("status").GetInt32());
        Assert.NotEmpty(problem.GetProperty("detail").GetString()!);
        if (pointer is not null)
            Assert.Equal(pointer, problem.GetProperty("pointer").GetString());
    }

    [Fact]
    public async Task The_refusal_of_the_documentation_is_what_is_sent()
    {
        var question = ProblemBlock().Match(_page).Groups[1].Value;
        var said = Fenced().Match(_page[_page.IndexOf("is answered by", StringComparison.Ordinal)..]).Groups[1].Value;
        Holds(JsonDocument.Parse(said).RootElement, await portal.RefusalAsync("bolt-up", question), "problem");
    }

    [Fact]
    public async Task Too_many_links_holes_or_points_are_refused_before_anything_is_computed()
    {
        var links = string.Join(',', Enumerable.Range(0, 65).Select(i => $$"""{"name":"{{i}}","nominal":1}"""));
        Assert.Equal("/links", (await portal.RefusalAsync("chain", $$"""{"links":[{{links}}]}""")).GetProperty("pointer").GetString());
        var holes = string.Join(',', Enumerable.Repeat("{}", 5001));
        Assert.Equal("/holes", (await portal.RefusalAsync("bolt-up", $$"""{"holes":[{{holes}}]}""")).GetProperty("pointer").GetString());
        var points = string.Join(',', Enumerable.Repeat("[0,0,0]", 100_001));
        Assert.Equal("/points", (await portal.RefusalAsync("feature", $$"""{"kind":"plane","method":"minimum-zone","points":[{{points}}]}""")).GetProperty("pointer").GetString());
    }

    [Fact]
    public async Task A_question_of_more_than_eight_megabytes_is_refused_unread()
    {
        // Waits for the server's word before it sends the body, however busy the machine is.
        using var patient = new HttpClient(new SocketsHttpHandler { Expect100ContinueTimeout = TimeSpan.FromMinutes(1) }) { BaseAddress = portal.Client.BaseAddress };
        using var request = new HttpRequestMessage(HttpMethod.Post, new Uri("/api/v1/calculations/fit", UriKind.Relative));
        request.Headers.ExpectContinue = true;
        request.Content = new StringContent(new string(' ', 8_000_001) + "{}", Encoding.UTF8, "application/json");
        using var response = await patient.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType);
    }

    [Fact]
    public async Task Only_json_by_post_is_a_question()
    {
        using var form = new StringContent("fit=50+H7", Encoding.UTF8, "application/x-www-form-urlencoded");
        using var posted = await portal.Client.PostAsync(new Uri("/api/v1/calculations/fit", UriKind.Relative), form, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, posted.StatusCode);
        using var got = await portal.Client.GetAsync(new Uri("/api/v1/calculations/fit", UriKind.Relative), TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.MethodNotAllowed, got.StatusCode);
        Assert.Equal(["POST"], got.Content.Headers.Allow);
    }

    [Fact]
    public async Task OpenApi_describes_every_calculation_with_its_example()
    {
        var text = await portal.Client.GetStringAsync(new Uri("/openapi/v1.json", UriKind.Relative), TestContext.Current.CancellationToken);
        var paths = JsonDocument.Parse(text).RootElement.GetProperty("paths");
        foreach (var calculator in Calculators.All)
        {
            var post = paths.GetProperty($"/api/v1/calculations/{calculator.Name}").GetProperty("post");
            var body = post.GetProperty("requestBody").GetProperty("content").GetProperty("application/json");
            Assert.True(JsonElement.DeepEquals(JsonDocument.Parse(calculator.Example).RootElement, body.GetProperty("example")), calculator.Name);
            Assert.True(body.TryGetProperty("schema", out _));
            Assert.True(post.GetProperty("responses").GetProperty("422").GetProperty("content").TryGetProperty("application/problem+json", out _));
        }
    }

    [Fact]
    public async Task Where_calculations_are_not_open_a_stranger_is_asked_to_sign_in_and_a_person_is_answered()
    {
        await using var closed = await PortalUnderTest.StartAsync(new PortalOptions());
        await using var scene = await WorkOrders.Scene.InAsync(closed.Database.OwnerConnectionString);
        using var stranger = await closed.StrangerAsync();
        using var question = new StringContent("""{"fit":"50 H7"}""", Encoding.UTF8, "application/json");
        using var refused = await stranger.Client.PostAsync(new Uri("/api/v1/calculations/fit", UriKind.Relative), question, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        Assert.Equal("application/problem+json", refused.Content.Headers.ContentType?.MediaType);
        using var ida = await closed.SignInAsync("ida@holmlane.example", WorkOrders.Scene.Password);
        using var again = new StringContent("""{"fit":"50 H7"}""", Encoding.UTF8, "application/json");
        using var answered = await ida.Client.PostAsync(new Uri("/api/v1/calculations/fit", UriKind.Relative), again, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, answered.StatusCode);
    }

    [Fact]
    public async Task An_address_that_asks_too_often_is_told_to_wait()
    {
        await using var strict = await PortalUnderTest.StartAsync(new PortalOptions(Settings: new Dictionary<string, string>
        {
            ["Calculations:Anonymous"] = "true",
            ["Calculations:PerMinute"] = "2",
        }));
        using var stranger = await strict.StrangerAsync();
        var statuses = new List<HttpStatusCode>();
        for (var i = 0; i < 3; i++)
        {
            using var question = new StringContent("""{"fit":"50 H7"}""", Encoding.UTF8, "application/json");
            using var response = await stranger.Client.PostAsync(new Uri("/api/v1/calculations/fit", UriKind.Relative), question, TestContext.Current.CancellationToken);
            statuses.Add(response.StatusCode);
        }

        Assert.Equal([HttpStatusCode.OK, HttpStatusCode.OK, HttpStatusCode.TooManyRequests], statuses);
    }

    /// <summary>Everything that is documented is there; a number to the digits it was written with.</summary>
    private static void Holds(JsonElement documented, JsonElement actual, string where)
    {
        switch (documented.ValueKind)
        {
            case JsonValueKind.Object:
                foreach (var field in documented.EnumerateObject())
                {
                    Assert.True(actual.TryGetProperty(field.Name, out var value), $"{where} has no {field.Name}");
                    Holds(field.Value, value, $"{where}.{field.Name}");
                }

                break;
            case JsonValueKind.Array:
                Assert.Equal(documented.GetArrayLength(), actual.GetArrayLength());
                for (var i = 0; i < documented.GetArrayLength(); i++)
                    Holds(documented[i], actual[i], $"{where}[{i}]");
                break;
            case JsonValueKind.Number:
                var written = documented.GetRawText();
                var digits = written.Contains('.', StringComparison.Ordinal) ? written.Length - 1 - written.IndexOf('.', StringComparison.Ordinal) : 9;
                var within = 0.5000001 * Math.Pow(10, -digits);
                Assert.True(
                    Math.Abs(double.Parse(written, CultureInfo.InvariantCulture) - actual.GetDouble()) <= within, $"{where} is {actual.GetRawText()}, not {written}");
                break;
            default:
                Assert.Equal(documented.ToString(), actual.ToString());
                break;
        }
    }

    [GeneratedRegex(@"```json\n(.*?)\n```", RegexOptions.Singleline)]
    private static partial Regex Fenced();

    [GeneratedRegex(@"```json problem\n(.*?)\n```", RegexOptions.Singleline)]
    private static partial Regex ProblemBlock();
}
